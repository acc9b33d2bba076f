"""A fleet of packets that were really signed gives the figures of the same as rows."""

from collections_made import collected
from packet_fleet import as_packets, as_rows, jobs

from auditkit.fleet.asking import Asked, asking
from auditkit.fleet.collecting import HowCollected
from auditkit.fleet.evidence.at_once import at_once
from auditkit.fleet.evidence.calibration import calibration
from auditkit.fleet.evidence.copied_readouts import copied_readouts
from auditkit.fleet.evidence.digits import last_digits
from auditkit.fleet.evidence.equal_records import equal_records
from auditkit.fleet.evidence.late_tests import late_tests
from auditkit.fleet.evidence.lateness import lateness
from auditkit.fleet.evidence.near_limit import near_limits
from auditkit.fleet.evidence.odometers import odometers
from auditkit.fleet.pool import judged_here
from auditkit.fleet.settings import Settings

SMALL = Settings(
    least_peers=4, least_window_readings=10, least_digits=10, least_late_events=10
)
MEASURES = (
    *(near_limits, last_digits, equal_records, lateness, late_tests),
    *(calibration, copied_readouts, odometers, at_once),
)


def test_the_figures_are_equal_and_ask_about_what_was_planted(tmp_path):
    """In one test: the packets are signed once, whatever processor tests steal."""
    listed = jobs()
    here = HowCollected(judging=judged_here)
    into, done = collected(tmp_path, as_packets(listed), here)
    assert (done.added, done.left_out, done.conflicts) == (len(listed), [], [])
    with asking(into, Asked(settings=SMALL)) as ask:
        of_packets = {one.__name__: one(ask, SMALL) for one in MEASURES}
    rows = as_rows(listed).ask(SMALL)
    are_equal(of_packets, {one.__name__: one(rows, SMALL) for one in MEASURES})
    ask_about_what_was_planted(of_packets)


def are_equal(packets_by_name, rows_by_name):
    for name, of_packets in packets_by_name.items():
        of_rows = rows_by_name[name]
        assert of_packets.section.sentences == of_rows.section.sentences
        for told, other in zip(
            of_packets.section.tables, of_rows.section.tables, strict=True
        ):
            # Rows of copied readouts begin with a digest of answers.
            since = 1 if name == "copied_readouts" else 0
            assert told.rows
            assert [r[since:] for r in told.rows] == [r[since:] for r in other.rows]
        assert [(q.shop, q.question, dict(q.measured)) for q in of_packets.asked] == [
            (q.shop, q.question, dict(q.measured)) for q in of_rows.asked
        ]


def ask_about_what_was_planted(of_packets):
    asked = {
        name: {one.shop for one in part.asked} for name, part in of_packets.items()
    }

    def shop(number):
        return f"shop-{number}.example/log"

    assert asked["near_limits"] == {shop(3)}
    assert asked["equal_records"] == {shop(6)}
    assert asked["late_tests"] == {shop(5)}
    assert asked["copied_readouts"] == {shop(2), shop(4)}
    assert asked["odometers"] == {shop(6)}
    assert not asked["calibration"]
    opened = of_packets["copied_readouts"].asked[0].to_open
    assert {one.repair_order for one in opened} == {"RO-3", "RO-9"}
    assert all(len(one.sha256) == 64 for one in opened)

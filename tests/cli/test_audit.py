"""``audit``: what it prints and writes, and one sentence for what it cannot use."""

import json
import subprocess
import sys
from pathlib import Path

import duckdb
import pyarrow.parquet as pq
import pytest
from made_collection import Made, day

BAD = "Shop 12"


@pytest.fixture(scope="module")
def fleet(tmp_path_factory):
    """Twelve invented shops; of the last, three times as many repairs come back."""
    made = Made()
    for number in range(1, 13):
        shop = f"Shop {number}"
        made.log(shop, origin=f"garage-{number}.example")
        for n in range(120):
            vin = f"VIN{number:03}{n:011}"
            made.fault(made.order(shop, at=n / 10, vin=vin, odometer_m=9_000_000))
            if n < (30 if shop == BAD else 8 + number % 4):
                back = made.order("Shop 1", at=60, vin=vin, odometer_m=11_000_000)
                made.fault(back, is_addressed=False, attempts=0, fixed_first=None)
    made.recorded(300)
    made.insert("run", run_id=1, started=day(301), finished=day(301), program="x")
    return made.save(tmp_path_factory.mktemp("fleet") / "fleet.duckdb")


@pytest.fixture(scope="module")
def once():
    """Return a function that gives what a command printed; the same is run once.

    Only for what writes no file.
    """
    printed = {}

    def call(run, *given):
        if given not in printed:
            printed[given] = run(*given)
        return printed[given]

    return call


def saved(made, name="small.duckdb"):
    if not any(table == "run" for table in made._rows):
        made.insert("run", run_id=1, started=day(301), program="x")
    return made.save(Path(name))


def test_the_answer_comes_first_then_shop_by_shop_then_the_questions(run, fleet):
    status, out, err = run("audit", fleet)
    assert (status, err) == (0, "")
    lines = out.splitlines()
    assert lines[0] == "How well repairs hold"
    assert lines[1].startswith(f"  1 question to 1 shop: {BAD}; about comebacks.")
    assert lines[2].startswith("  Of 1,440 repairs that could be followed, ")
    assert f"more came back than expected at {BAD}" in out
    row = next(line for line in lines if line.startswith(BAD))
    assert row.split()[-4:] == ["asks", "for", "a", "look"]
    asked = out.index(f"{BAD}, comebacks: More of its repairs came back than its kind")
    assert out.index("A question is no accusation. It says where") < asked
    assert "look at RO-" in out[asked:]


def test_the_same_collection_gives_the_same_bytes(run, fleet, once):
    for name in ("one", "two"):
        status, *_ = run(
            *("audit", fleet, "--format", "csv", "--into", f"{name}.csv"),
            *("--parquet", f"{name}.parquet", "--html", f"{name}.html"),
        )
        assert status == 0
    for kind in ("csv", "parquet"):
        files = sorted(path.name for path in Path(f"one.{kind}").iterdir())
        assert {f"shops.{kind}", f"questions.{kind}", f"came_back.{kind}"} <= set(files)
        for name in files:
            one, two = (Path(f"{n}.{kind}", name).read_bytes() for n in ("one", "two"))
            assert one == two, name
    assert Path("one.html").read_bytes() == Path("two.html").read_bytes()
    json_of = ("audit", fleet, "--format", "json")
    assert run(*json_of) == once(run, *json_of)


def test_the_sheets_are_the_same_bytes_too(run, fleet):
    vin = f"VIN012{0:011}"
    for name in ("one.pdf", "two.pdf"):
        assert run("audit", fleet, "--vehicle", vin, "--pdf", name)[0] == 0
    assert Path("one.pdf").read_bytes() == Path("two.pdf").read_bytes()
    assert Path("one.pdf").read_bytes().startswith(b"%PDF")


def test_json_and_tables_say_the_same(run, fleet):
    _, out, _ = run("audit", fleet, "--format", "json", "--parquet", "tables")
    made = json.loads(out)
    assert made["format"] == "auditkit/audit@1"
    (section,) = [s for s in made["sections"] if s["name"] == "shops"]
    (shops,) = [t for t in section["tables"] if t["name"] == "shops"]
    assert shops["rows"] == pq.read_table("tables/shops.parquet").to_pylist()
    (asked,) = [a for a in made["asked"] if not a["is_to_watch"]]
    assert (asked["shop"], asked["measured"]["came back"]) == (BAD, 30)
    assert len(asked["to_open"]) == 30


def test_what_is_there_already_is_not_written_over(run, fleet):
    Path("full").mkdir()
    Path("full/own.txt").write_text("mine")
    Path("page.html").write_text("mine")
    for more in (
        ("--html", "page.html"),
        ("--format", "csv", "--into", "full"),
        ("--parquet", "full", "--html", "new.html"),
    ):
        status, out, err = run("audit", fleet, *more)
        assert (status, out) == (2, "")
        assert "already" in err
    assert Path("page.html").read_text() == "mine"
    assert [path.name for path in Path("full").iterdir()] == ["own.txt"]
    assert not Path("new.html").exists()


def test_an_empty_folder_may_be_there(run, fleet):
    Path("empty").mkdir()
    assert run("audit", fleet, "--format", "csv", "--into", "empty")[0] == 0
    assert Path("empty/shops.csv").exists()


@pytest.mark.parametrize("given", [("--format", "csv"), ("--into", "folder")])
def test_csv_and_its_folder_go_together(run, fleet, given):
    status, _, err = run("audit", fleet, *given)
    assert status == 2
    assert "--format csv and --into FOLDER go together" in err


class TestUnusable:
    def told(self, run, *given):
        status, out, err = run("audit", *given)
        assert (status, out) == (2, "")
        assert len(err.splitlines()) == 1, err
        return err

    def test_no_file(self, run):
        assert "there is no such file" in self.told(run, "none.duckdb")

    def test_a_folder(self, run):
        Path("packets").mkdir()
        told = self.told(run, "packets")
        assert "packets: this is a folder; name a file that 'auditkit collect'" in told

    def test_a_text(self, run):
        told = self.told(run, "readout.txt")
        assert "readout.txt: this is no collection" in told
        assert "not there yet" not in told, "an audit reads what is there"

    def test_another_database(self, run):
        duckdb.connect("other.duckdb").execute("CREATE TABLE a (b INTEGER)").close()
        assert "this is a database, and no collection" in self.told(run, "other.duckdb")

    def test_another_version(self, run):
        path = saved(Made())
        with duckdb.connect(str(path)) as made:
            made.execute("UPDATE collection SET format = 'auditkit/collection@0'")
        assert "of another version (auditkit/collection@0)" in self.told(run, path)

    def test_an_empty_collection(self, run):
        assert "no repair order is in this collection" in self.told(run, saved(Made()))

    def test_one_that_another_process_holds(self, run):
        path = saved(Made())
        holding = (
            "import duckdb, sys; c = duckdb.connect(sys.argv[1]); print(); input()"
        )
        with subprocess.Popen(
            [sys.executable, "-c", holding, str(path)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
        ) as other:
            other.stdout.readline()
            told = self.told(run, path)
            other.communicate(b"\n")
        assert "another process holds this collection" in told
        assert str(other.pid) in told

    @pytest.mark.parametrize(
        ("option", "text", "said"),
        [
            ("--rules", "horizon = 3", "it does not say format"),
            ("--vehicles", "plate\nA-1\n", "row 1: the first row is not 'vin,from,to'"),
            ("--answers", "text = 1", "it does not say format"),
        ],
    )
    def test_files_beside_it(self, run, fleet, option, text, said):
        Path("given").write_text(text)
        assert said in self.told(run, fleet, option, "given")

    def test_an_unknown_shop(self, run, fleet):
        assert "did you mean Shop 1" in self.told(run, fleet, "--shop", "Shop1")

    def test_an_unknown_vehicle(self, run, fleet):
        told = self.told(run, fleet, "--vehicle", "NOSUCHVIN")
        assert "no repair order of this vehicle counts here" in told

    def test_vins_where_pseudonyms_are(self, run):
        made = Made()
        made.order()
        made.connection.execute("UPDATE collection SET pseudonym_check = 'x'::BLOB")
        Path("fleet.csv").write_text("vin\nVIN1\n")
        told = self.told(run, saved(made), "--vehicles", "fleet.csv")
        assert "it holds pseudonyms in place of VINs" in told
        told = self.told(run, "small.duckdb", "--vehicle", "VIN1")
        assert "it holds pseudonyms in place of VINs" in told


def test_one_packet_of_one_shop(run):
    made = Made()
    made.fault(made.order("Shop 1"))
    made.recorded(30)
    status, out, err = run("audit", saved(made))
    assert (status, err) == (0, "")
    assert (
        "1 repair that could be followed, with 0 comebacks at a later visit within 180 "
        "days: too few" in out
    )
    assert "No shop stands out by any of these screens." in out


def test_a_register_leaves_other_vehicles_out(run, fleet):
    rows = [f"VIN012{n:011},2025-01-01,2026-02-19" for n in range(50)]
    Path("own.csv").write_text("\n".join(("vin,from,to", *rows)))
    _, out, _ = run("audit", fleet, "--vehicles", "own.csv")
    # Of 50 vehicles, in view for 50 days, none was seen to come back on day 60.
    assert "50 repairs that could be followed, with 0 comebacks" in out
    assert "Of 50 repaired faults, 100.0 in 100 were shown to be fixed" in out
    parts = [
        *("Of the 50 vehicles of the register:", "50 repairs that could be followed"),
        *("Of all that was collected, of whatever vehicle:", " repair orders, judged"),
        *("Shop by shop, the vehicles of the register", "fixed first time, %"),
        *("Shop by shop, all that was collected", "delivered, %"),
    ]
    places = [out.index(part) for part in parts]
    assert places == sorted(places), "what is of which vehicles stands apart"


def test_answers_stand_beside_the_questions(run, fleet):
    text = 'format = "auditkit/audit-answers@1"\n'
    for shop, said in ((BAD, "One customer's vans."), ("Shop 3", "Nothing.")):
        text += f'[[answer]]\nshop = "{shop}"\nscreen = "comebacks"\n'
        text += f'date = 2026-03-02\ntext = "{said}"\n'
    Path("answers.toml").write_text(text)
    _, out, _ = run("audit", fleet, "--answers", "answers.toml")
    assert "the shop answered on 2026-03-02: One customer's vans." in out
    assert (
        "no such question is here: Shop 3 on comebacks (2026-03-02). It is not" in out
    )


def test_own_rules_are_kept_with_the_audit(run, fleet, once):
    Path("rules.toml").write_text(
        'format = "auditkit/audit-rules@1"\nhorizon_days = 30\n'
    )
    _, out, _ = run("audit", fleet, "--rules", "rules.toml", "--format", "json")
    made = json.loads(out)
    assert "within 30 days: too few" in made["sections"][0]["sentences"][0]
    _, usual, _ = once(run, "audit", fleet, "--format", "json")
    key = "settings, SHA-256"
    assert made["made_from"][key] != json.loads(usual)["made_from"][key]


def test_logs_with_two_histories_count_only_where_asked(run):
    made = Made()
    made.log("Shop 1", is_forked=True)
    made.fault(made.order("Shop 1"))
    made.recorded(30)
    path = saved(made)
    _, out, _ = run("audit", path)
    assert "were signed by Shop 1: left out." in out
    _, out, _ = run("audit", path, "--with-forked")
    assert "counted all the same, as asked" in out


class TestOneShop:
    @pytest.fixture
    def seen(self, run, fleet, once):
        """Return what it sees, as JSON text."""
        status, out, _ = once(run, "audit", fleet, "--shop", BAD, "--format", "json")
        assert status == 0
        return out

    def test_it_sees_no_other_name(self, seen):
        for number in range(1, 12):
            assert f'Shop {number}"' not in seen
            assert f"Shop {number} " not in seen
            assert f"garage-{number}." not in seen
        assert "another shop 1" in seen
        said = [s for part in json.loads(seen)["sections"] for s in part["sentences"]]
        assert f"{BAD}: 30 comebacks where " in " ".join(said)
        assert not any("another shop 1" in sentence for sentence in said)
        assert any("to another shop than the one" in sentence for sentence in said)

    def test_it_sees_its_own_rows_and_questions(self, seen):
        made = json.loads(seen)
        assert {asked["shop"] for asked in made["asked"]} == {BAD}
        for section in made["sections"]:
            for table in section["tables"]:
                seen = {row["shop"] for row in table["rows"] if "shop" in row}
                assert seen <= {BAD, "all shops"}, table["name"]

    def test_it_sees_nothing_of_other_shops_orders(self, seen):
        made = json.loads(seen)
        (section,) = [s for s in made["sections"] if s["name"] == "came_back"]
        rows = section["tables"][0]["rows"]
        assert len(rows) == 30
        assert {(row["seen_in"], row["seen_packet"]) for row in rows} == {("", "")}

    def test_it_sees_no_vehicle_of_another_shop(self, run, fleet):
        rows = [f"VIN{shop:03}{n:011}" for shop in (3, 12) for n in range(120)]
        Path("own.csv").write_text("\n".join(("vin", *rows)))
        given = ("audit", fleet, "--shop", BAD, "--vehicles", "own.csv")
        _, out, _ = run(*given, "--format", "json")
        assert "VIN012" in out
        assert "VIN003" not in out

    def test_it_may_be_named_by_its_log(self, run, fleet, seen):
        by_log = ("--shop", "garage-12.example", "--format", "json")
        assert run("audit", fleet, *by_log) == (0, seen, "")


class TestOneVehicle:
    def test_its_visits_and_what_came_back(self, run, fleet):
        status, out, _ = run("audit", fleet, "--vehicle", f"vin012{0:011}")
        assert status == 0
        assert "2 visits to 2 shops; 1 fault repaired, 1 of them came back" in out
        assert "P0401@7E8, repaired in RO-" in out
        assert "came back after 60 days" in out
        assert "11,000" in out

    def test_one_that_was_there_once(self, run, fleet):
        _, out, _ = run("audit", fleet, "--vehicle", f"VIN012{99:011}")
        assert "1 visit to 1 shop; 1 fault repaired, 0 of them came back" in out

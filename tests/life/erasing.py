"""Withheld texts of a life: erased, or lost."""

from conftest import PASSPHRASE

from auditkit.errors import InputError
from auditkit.log.logged_order import AlreadyErasedError
from auditkit.proof import disclosure
from auditkit.proof.entry import parse_payload


def disclosures_at(site, seqs_and_paths):
    found = []
    store = site.open().store
    sealed = {row.entry.seq: row.entry.payload for row in store.rows()}
    for seq, _, text in store.disclosures():
        if not disclosure.is_decoy(text):
            said = parse_payload(sealed[seq])
            path = disclosure.path_of(said.event, said.withheld, text)
            if (seq, path) in seqs_and_paths:
                found.append(text)
    return found


def erase(life, site, order, paths, how):
    seqs = {seq for seq, _ in site.log.order(order)}
    found, errors, asked = set(), [], sorted(paths)
    for path in asked:
        at = {
            place: state
            for place, (state, _) in site.log.texts.items()
            if place[0] in seqs and place[1] in {path, f"event.{path}"}
        }
        now = {place for place, state in at.items() if state == "withheld"}
        if not now and "erased" in at.values():
            errors.append((AlreadyErasedError, "was erased already"))
        elif not now:
            errors.append((InputError, "nothing is withheld at"))
        found |= now
    chosen = kept_pictures(site, order)[: life.turn % 3]
    if chosen and errors:
        asked, errors, found = [], [], set()
    is_only_erased = bool(errors) and errors[0][0] is AlreadyErasedError
    texts = disclosures_at(site, found)

    def erased(at):
        for place in found:
            site.log.texts[place] = ("erased", site.log.texts[place][1])
        site.log.gone += texts
        site.log.is_dirty = True
        site.log.pictures |= dict.fromkeys(chosen, "erased")

    def scrubbed():
        site.log.is_dirty = False

    call = life.log_call(
        site,
        lambda ledger: ledger.erase(
            order, paths=asked, attachments=chosen, reason="r", passphrase=PASSPHRASE
        ),
        [life.line("text_erased")],
        erased,
        last=[*going(site, chosen), ("scrub", scrubbed)],
        errors=errors[:1] or life.refused(site),
    )
    if not call.errors:
        call.steps.insert(2, ("erase_disclosures", None))
    if life.perform(site, call, how):
        assert not site.open().attachments.names() & set(chosen)
        life.met(f"erased; pictures: {bool(chosen)}")
    if is_only_erased:
        site.log.is_dirty = False


def kept_pictures(site, order):
    """Return the pictures of an order that are kept, in order."""
    named = [x.event["sha256"] for _, x in site.log.order(order) if is_picture(x)]
    return [digest for digest in named if site.log.pictures[digest] == "kept"]


def is_picture(line):
    return line.kind == "attachment"


def going(site, chosen):
    """Return the steps in which erased pictures go from beside a log."""
    if not chosen:
        return []
    return [
        ("erase", lambda: site.pictures.discard(chosen[0])),
        ("", lambda: site.pictures.difference_update(chosen)),
    ]


def lose_a_text(life, site, which):
    """A disclosure disappears and no entry says so: neither withheld nor erased."""
    at = sorted(p for p, (state, _) in site.log.texts.items() if state[0] == "w")
    if not at:
        return
    place = at[which % len(at)]
    (text,) = disclosures_at(site, {place})
    site.open().store._db.execute(
        "delete from disclosure where disclosure = ?", (text,)
    )
    site.log.texts[place] = ("lost", site.log.texts[place][1])

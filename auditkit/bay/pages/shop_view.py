"""The shop: its people, its instruments, its fingerprint; enrolling and revoking.

What a manager does here is signed by the log's key, and by nobody's own: so its
passphrase is asked for each time.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING

from auditkit.bay.pages.visit import see_other
from auditkit.bay.signed_in import WaitFirst
from auditkit.bay.unit_words import VACUUM, units_of_kinds
from auditkit.bay.unlocked import DoesNotOpen
from auditkit.bench.units import QuantityKind
from auditkit.errors import AuditkitError, InputError, KeyProblem
from auditkit.log import key_files
from auditkit.order.instruments_entered import NEEDED, OF_CALIBRATION, OF_INSTRUMENT
from auditkit.proof.entry import LOG_SIGNER
from auditkit.proof.role import Role
from auditkit.text.display_text import not_text

if TYPE_CHECKING:
    from starlette.responses import Response

    from auditkit.bay.pages.visit import Visit
    from auditkit.log.ledger import Ledger
    from auditkit.log.people import Person

_SECRET = frozenset({"own", "again", "log_passphrase"})
_DONE = {
    "instrument": "Registered. Tests take its specification from now on.",
    "calibration": "Registered. What was recorded before stays as it was.",
    "policy": "Chosen. Orders are judged so from now on; what is closed stays closed.",
}
_SOON = 30  # days before a calibration ends in which the page says so: our choice
_ROLES = {
    Role.TECHNICIAN: "technician: records",
    Role.MANAGER: "manager: records, enrols and revokes",
    Role.ONLOOKER: "onlooker: looks, signs nothing",
}


def show(visit: Visit) -> Response:
    """Show who records here, with what, and by which fingerprint the shop is known."""
    return shown(visit)


def enrol(visit: Visit) -> Response:
    """Enrol a person, who types a passphrase of their own on this page."""

    def done(log: Ledger) -> Person:
        return log.enrol(
            _said(visit, "person", "the person's id"),
            passphrase=b"",  # the log's key is open in the bay
            own_passphrase=_own(visit),
            role=_role(visit),
        )

    return _acted(visit, "enrol", done)


def revoke(visit: Visit) -> Response:
    """Revoke a person's key: what it signs from now on is refused."""
    return _acted(
        visit,
        "revoke",
        lambda log: log.revoke(
            _said(visit, "person", "whose key it is"),
            reason=_said(visit, "reason", "why, for the log"),
            passphrase=b"",
        ),
    )


def replace(visit: Visit) -> Response:
    """Revoke a person's key and enrol another: the old passphrase may be forgotten."""
    return _acted(
        visit,
        "replace",
        lambda log: log.rotate(
            _said(visit, "person", "whose key it is"),
            reason=_said(visit, "reason", "why, for the log"),
            passphrase=b"",
            own_passphrase=_own(visit),
        ),
    )


def _acted(visit: Visit, act: str, done: Callable[[Ledger], Person]) -> Response:
    """Do it, once the log key's passphrase was given; else say what is wrong."""
    try:
        _confirm(visit)
        made = visit.desk.writer.do(done).result()
    except WaitFirst as error:
        return shown(visit, act, error, 429)
    except DoesNotOpen:
        wrong = KeyProblem(
            "this is not the passphrase of the log's key",
            what_to_do="give that one: it is asked for where the bay is started; "
            "nobody's own key signs for the log",
        )
        return shown(visit, act, wrong, 403)
    except AuditkitError as error:
        return shown(visit, act, error, 422)
    return see_other(f"/shop?entry={made.revoked_seq or made.enrolled_seq}")


def _confirm(visit: Visit) -> None:
    log_key = visit.desk.log_key.public
    if not key_files.has_file(key_files.folder_of(visit.desk.writer.path), LOG_SIGNER):
        raise KeyProblem(
            "the log's key lies in a security token, or not here",
            what_to_do="use 'auditkit key' on the shop's computer: a PIN is not asked "
            "for over the network",
        )
    word = visit.answers.get("log_passphrase", "").encode()
    visit.desk.sign_ins.confirm_log_key(log_key, word, address=visit.address)


def _said(visit: Visit, name: str, what: str) -> str:
    text = visit.answers.get(name, "").strip()
    if not text:
        raise InputError(f"{what} is not said", what_to_do="write it")
    if told := not_text(text, one_line=True):
        raise InputError(told, what_to_do="write plain text on one line")
    return text


def _role(visit: Visit) -> Role:
    try:
        return Role(visit.answers.get("role", ""))
    except ValueError as error:
        raise InputError(
            "no role is chosen", what_to_do=f"choose one: {', '.join(Role)}"
        ) from error


def _own(visit: Visit) -> bytes:
    """Return the passphrase that the person typed twice, for a key of their own."""
    word = visit.answers.get("own", "").encode()
    if word != visit.answers.get("again", "").encode():
        raise InputError(
            "the person's two passphrases differ", what_to_do="type it twice again"
        )
    if len(word) < key_files.SHORTEST_PASSPHRASE:
        raise InputError(
            f"the person's passphrase is {len(word)} bytes long: it would be guessed",
            what_to_do=f"choose one of at least {key_files.SHORTEST_PASSPHRASE}",
        )
    return word


def shown(
    visit: Visit, act: str = "", error: AuditkitError | None = None, status: int = 200
) -> Response:
    """Show the shop's page, with what of an ``act`` was not done, and why."""
    from auditkit.bay.pages import choices_view

    desk = visit.desk
    today = date.fromisoformat(desk.at()[:10])
    with desk.writer.reading() as log:
        people = log.people()
        fingerprint = log.log_key.thumbprint
    told = f"{error.message}. What to do: {error.what_to_do}." if error else ""
    entry = visit.asked.get("entry", "")
    return visit.page(
        "shop.html",
        status,
        fingerprint=fingerprint,
        people=[
            (p.id, str(p.role), p.revoked_seq is None, p.has_private) for p in people
        ],
        active=[p.id for p in people if p.revoked_seq is None],
        roles=list(_ROLES.items()),
        instruments=sorted(
            (one.due(today) or "", one.id, one.description, _state(one.days(today)))
            for one in desk.register.values()
        ),
        act=act,
        told=f"Not done: {told}" if told else "",
        wrong=error.where if error else "",
        done=f"Done: entry {entry} of the log."
        if entry.isdecimal()
        else _DONE.get(visit.asked.get("done", ""), ""),
        # What was typed comes back, but for passphrases.
        said={k: v for k, v in visit.answers.items() if k not in _SECRET},
        of_instrument=OF_INSTRUMENT,
        of_calibration=OF_CALIBRATION,
        needed={*NEEDED},
        units=[u for u, _ in units_of_kinds(QuantityKind, also=VACUUM)],
        **choices_view.values(visit, is_typed=act == "policy"),
    )


def _state(days: int | None) -> str:
    """Return how an instrument stands, by the days until its calibration ends."""
    if days is None:
        return "never calibrated: it measures nothing that counts"
    if days < 0:
        return "OUT OF CALIBRATION"
    if days <= _SOON:
        return f"due in {days} days: have it calibrated" if days else "due today"
    return "in calibration"

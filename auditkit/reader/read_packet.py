"""What a reader holds against a packet, from files already read to one report.

``auditkit verify`` and the one-file verifier both answer through here, so that they
answer alike. Pure: the callers read files, tell logs from packets, and print.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.order.policy import DEFAULT, Policy
from auditkit.plugin.loading import load_canon, load_catalogue
from auditkit.proof import attested_bounds, time_bounds
from auditkit.proof.attestation import AttestedCheckpoint
from auditkit.proof.check_packet import NO_KEY, verify_packet
from auditkit.proof.check_report import CheckReport, JudgedHere
from auditkit.proof.note import checkpoint_text
from auditkit.proof.receipt import as_written, parse_receipt
from auditkit.proof.trust_policy import TrustPolicy, parse_trust_policy
from auditkit.reader.file_kind import GivenFile, packet_in
from auditkit.reader.hold_receipt import compare_with_receipt
from auditkit.reader.judge_again import judge_again
from auditkit.reader.pdf_attachment import PDF_HEAD
from auditkit.text.display_text import quoted

if TYPE_CHECKING:
    from auditkit.order.catalogue import Catalogue

MENDED = (
    "the receipt was not as it was written (line ends or spaces were lost, or an "
    "address stood before it); it was put right"
)
_FINGERPRINT_LETTERS = 43  # of base64url: a SHA-256 (RFC 7638) without padding
_CERTIFICATE = b"-----BEGIN CERTIFICATE-----"  # RFC 7468 section 5
_NO_LETTER = re.compile(r"[^A-Za-z0-9_-]")


@dataclass(frozen=True, slots=True)
class Expectations:
    """What a reader expects of packets or a log. Make it with ``expectations``.

    ``expect_key`` is the log key's thumbprint (RFC 7638), ``trust`` the whole text of
    an earlier checkpoint, ``policy`` whose cosignatures are wanted, ``roots``
    certificates in PEM with their file's name, ``receipt`` a receipt's text,
    ``notes`` what was done with those files before. ``judge_by`` is the policy by which
    this reader judges; by the rules that auditkit ships and, ``with_plugins``, by those
    of every plugin that is installed here.
    """

    expect_key: str | None = None
    trust: str | None = None
    policy: TrustPolicy | None = None
    roots: GivenFile | None = None
    receipt: str | None = None
    notes: tuple[str, ...] = ()
    judge_by: Policy = DEFAULT
    with_plugins: bool = False


def fingerprint(text: str, *, where: str = "--key") -> str:
    """Return a log key's fingerprint (RFC 7638) as typed; InputError where it is none.

    Whether it is the right one is the packet's question.
    """
    alien = _NO_LETTER.search(text)
    if len(text) == _FINGERPRINT_LETTERS and alien is None:
        return text
    message = f"a fingerprint has {_FINGERPRINT_LETTERS} letters, digits, - and _; "
    if alien is None or len(text) != _FINGERPRINT_LETTERS:
        message += f"these are {len(text)}"
    else:
        message += f"{quoted(alien[0])} is none of them"
    raise InputError(message, where=where, what_to_do="copy it whole")


def expectations(
    *,
    expect_key: str | None = None,
    trust: GivenFile | None = None,
    witnesses: GivenFile | None = None,
    roots: GivenFile | None = None,
    receipt: GivenFile | None = None,
) -> Expectations:
    """Return what a reader expects, from the files given; None expects nothing.

    Raises InputError, with the file's name, where one is not what it should be, and
    where ``expect_key`` is no fingerprint.
    ``roots`` are read where a time stamp is met.
    """
    held = policy = said = None
    notes: tuple[str, ...] = ()
    if expect_key is not None:
        fingerprint(expect_key)
    if trust is not None:
        held = checkpoint_text(trust.text(), where=trust.where)
    if witnesses is not None:
        policy = parse_trust_policy(witnesses.data, where=witnesses.where)
    if roots is not None and _CERTIFICATE not in roots.data:
        raise InputError(
            "this file holds no certificate in PEM form",
            where=roots.where,
            what_to_do="name the root certificates of the authorities that you trust",
        )
    if receipt is not None:
        if receipt.data.startswith(PDF_HEAD):
            raise InputError(
                "this is a PDF, and not the receipt's text",
                where=receipt.where,
                what_to_do="save what the code on the page holds as a file, and name "
                "that; it stands beside the code, too",
            )
        said = as_written(receipt.text())
        parse_receipt(said, where=receipt.where)
        if said != receipt.text():
            notes = (MENDED,)
    return Expectations(expect_key, held, policy, roots, said, notes)


def check_file(given: GivenFile, wanted: Expectations) -> CheckReport:
    """Return what holds of the packet that a file is or carries.

    Raises InputError, which says what the file is, where no packet can be read in it.
    """
    packet, note = packet_in(given)
    report = check_packet(packet, wanted)
    notes = (*((note,) if note else ()), *wanted.notes)
    return report.with_more((), notes)


def check_packet(packet: GivenFile, wanted: Expectations) -> CheckReport:
    """Return what holds of a packet; raise InputError where it cannot be read."""
    report = verify_packet(
        packet.data,
        where=packet.where,
        expect_key=wanted.expect_key,
        trust=wanted.trust,
    )
    return checked_and_judged(report, wanted=wanted)


def judged_here(packet: bytes, where: str) -> JudgedHere | None:
    """Return what a packet's evidence says here, judged as ``verify`` does.

    ``packet`` has verified; plugins count.
    """
    return judged_of(verify_packet(packet, where=where))


def judged_of(report: CheckReport) -> JudgedHere | None:
    """Return the same of a packet by its report; None where it does not hold."""
    wanted = replace(expectations(), with_plugins=True)
    return checked_and_judged(report, wanted=wanted).judged


def checked_and_judged(report: CheckReport, *, wanted: Expectations) -> CheckReport:
    """Return a report as ``with_reader_checks`` does, with the evidence judged here.

    Only what verified is judged. Errors as ``Catalogue.judge``.
    """
    report = with_reader_checks(report, wanted=wanted)
    if not report.verified or report.packet is None:
        return report
    catalogue = _rules(with_plugins=wanted.with_plugins)
    _, found = judge_again(report.packet, catalogue, wanted.judge_by, report.payloads)
    return replace(report, judged=found)


@lru_cache(maxsize=2)
def _rules(*, with_plugins: bool) -> Catalogue:
    return load_catalogue() if with_plugins else load_canon()


def with_reader_checks(report: CheckReport, *, wanted: Expectations) -> CheckReport:
    """Return a packet's report with what outsiders and a receipt say of it.

    ``report`` is what ``verify_packet`` returned for the same key and trust. Raises
    InputError where roots cannot be read or a library is missing.
    """
    if wanted.policy is not None or wanted.roots is not None:
        read = report.packet if report.checkpoint is not None else None
        own = () if read is None else (read.checkpoint,)
        report = with_outsiders(report, wanted, *own)
    if wanted.receipt is None or not report.verified:
        return report
    found = compare_with_receipt(report, wanted.receipt)
    differ = (replace(p, problem=f"the receipt: {p.problem}") for p in found.problems)
    # A receipt names the log's key: it was compared, whatever came of it.
    notes = tuple(note for note in report.notes if note != NO_KEY)
    agreed = tuple(filter(None, (found.agreement, found.went_on)))
    report = replace(report, notes=notes, paper=found.paper, agreed=agreed)
    return report.with_more(differ, ())


def with_outsiders(report: CheckReport, wanted: Expectations, *own: str) -> CheckReport:
    """Return the report with what outsiders say: who witnessed, and since when.

    ``own`` is the text of the report's checkpoint, where outsiders may have signed it;
    the checkpoint of a log itself is not held by others. Errors as
    ``with_reader_checks``.
    """
    if wanted.policy is None and wanted.roots is None:
        return report
    attested = list(report.attested)
    if report.checkpoint is not None:
        attested += [AttestedCheckpoint(None, text, report.checkpoint) for text in own]
    if wanted.policy is not None:
        report = attested_bounds.with_witnesses(
            report, wanted.policy, attested, wanted.trust
        )
    roots = wanted.roots
    try:
        found = attested_bounds.believed_bounds(
            attested,
            policy=wanted.policy,
            roots=None if roots is None else roots.data,
        )
    except InputError as error:
        raise (error if roots is None else error.at(roots.where)) from error
    return time_bounds.with_times(report, found)

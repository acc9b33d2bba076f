"""A file's bytes -> what it gives a collection, or why it gives nothing.

What a process of the pool, or a worker of a cluster, does for each file. It reads no
file: whoever walks the folders hands over the bytes.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from auditkit.errors import AuditkitError
from auditkit.fleet.rows.packet_rows import PacketRows, packet_rows
from auditkit.order.judged_by import digests, rule_sha256
from auditkit.order.policy import DEFAULT, Policy
from auditkit.plugin.loading import load_catalogue
from auditkit.proof.check_packet import verify_packet
from auditkit.proof.packet import format_packet, parse_packet
from auditkit.reader.file_kind import GivenFile, packet_in
from auditkit.reader.judge_again import judge_order
from auditkit.text.strict_json import canonical
from auditkit.text.values import Json

if TYPE_CHECKING:
    from auditkit.order.catalogue import Catalogue
    from auditkit.proof.check_report import CheckReport

NOT_VERIFIED = "the packet does not verify"
_UNEXPECTED = "reading it failed on what this version does not expect"


class FoundFile(NamedTuple):
    """A file that may carry a packet: where it lies, the SHA-256 of it, its bytes."""

    path: str
    sha256: bytes
    data: bytes


@dataclass(frozen=True, slots=True)
class Judged:
    """A packet that verified: the digest of its file and its own, and its rows."""

    path: str
    file_sha256: bytes
    sha256: bytes
    size: int
    rows: PacketRows


@dataclass(frozen=True, slots=True)
class Refused:
    """A file that gives nothing, why, and what about it (empty for nothing more).

    ``file_sha256`` is that of a file which says that it is or carries a packet: it is
    held, and not read again. Of any other it is empty.
    """

    path: str
    because: str
    more: str = ""
    file_sha256: bytes = b""
    size: int = 0

    @classmethod
    def again(cls, path: str, said: str) -> Refused:
        """Return what was refused before, of what was ``said`` of it then."""
        more = said.removeprefix(f"{NOT_VERIFIED}: ")
        return cls(path, said) if more == said else cls(path, NOT_VERIFIED, more)

    @property
    def said(self) -> str:
        """Why, in one line."""
        return f"{self.because}: {self.more}" if self.more else self.because


Outcome = Judged | Refused


def judged_files(files: Sequence[FoundFile], policy: Policy = DEFAULT) -> list[Outcome]:
    """Return what each file gives, in their order; no file stops another."""
    return [judged_file(file, policy) for file in files]


def judged_file(file: FoundFile, policy: Policy = DEFAULT) -> Outcome:
    """Return what a file gives a collection."""
    try:
        packet = packet_in(GivenFile(file.path, file.data)).packet.data
    except AuditkitError as error:
        return Refused(file.path, error.message)
    except Exception:  # noqa: BLE001  a stranger wrote what is read here
        return Refused(file.path, _UNEXPECTED)
    try:
        return _judged(file, packet, policy)
    except AuditkitError as error:
        return _refused(file, error.message)
    except Exception:  # noqa: BLE001  the same
        return _refused(file, _UNEXPECTED)


def _judged(file: FoundFile, data: bytes, policy: Policy) -> Outcome:
    report = verify_packet(data, where=file.path)
    if report.problems:
        return _refused(file, NOT_VERIFIED, str(report.problems[0]))
    digest = hashlib.sha256(data).digest()
    rows = _rows(report, policy)
    return Judged(file.path, file.sha256, digest, len(data), rows)


def judged_together(
    contents: Sequence[bytes], policy: Policy = DEFAULT
) -> PacketRows | None:
    """Return the rows of the first packet, with what the others disclose of it.

    None where they do not verify together.
    """
    first, *others = map(parse_packet, contents)
    own = {signed.seq for signed, _ in first.entries}
    texts = {pair for one in others for pair in one.disclosures if pair[0] in own}
    pictures = {pair for one in others for pair in one.attachments}
    merged = replace(
        first,
        disclosures=tuple(sorted(texts.union(first.disclosures))),
        attachments=tuple(sorted(pictures.union(first.attachments))),
    )
    report = verify_packet(format_packet(merged))
    return None if report.problems else _rows(report, policy)


def _rows(report: CheckReport, policy: Policy) -> PacketRows:
    packet, checkpoint = report.packet, report.checkpoint
    if packet is None or checkpoint is None:
        raise AuditkitError("a packet that verified has its checkpoint")
    judged = judge_order(packet, rules(), policy, report.payloads)
    return packet_rows(packet, checkpoint, report, judged)


def _refused(file: FoundFile, because: str, more: str = "") -> Refused:
    return Refused(file.path, because, more, file.sha256, len(file.data))


@lru_cache(maxsize=1)
def rules() -> Catalogue:
    """Return what auditkit and the plugins installed here judge by."""
    return load_catalogue()


@lru_cache(maxsize=1)
def rules_sha256() -> bytes:
    """Return the digest of all that packets are judged by, but the policy."""
    catalogue = rules()
    listed: list[Json] = [
        [rule.name, rule.version, catalogue.plugin_of(rule.name), _digest(rule.name)]
        for rule in catalogue.rules
    ]
    whole: Json = {"rules": listed, "tables": dict(digests(catalogue))}
    return hashlib.sha256(canonical(whole).encode()).digest()


def _digest(name: str) -> str:
    catalogue = rules()
    return rule_sha256(catalogue.rule(name)) if name in catalogue.canon else ""

"""Judging a collection's packets again, read from where they were seen last.

The new collection is made beside the old one and takes its place when it is whole:
until then, and where a packet is gone, the old one stays as it was.
"""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256
from pathlib import Path

from auditkit.errors import InputError
from auditkit.fleet.collected import Collected
from auditkit.fleet.collecting import Also, HowCollected, collect, packet_again
from auditkit.fleet.collection_file import check_form, opened
from auditkit.fleet.found_files import container
from auditkit.fleet.judging import FoundFile
from auditkit.fleet.tables_held import TablesHeld
from auditkit.fleet.terms import check_pseudonyms
from auditkit.text.display_text import plural

_SHOWN = 10


def rebuild(folders: Sequence[Path], into: Path, how: HowCollected) -> Collected:
    """Judge a collection's packets again, by these terms, and take in folders too.

    Raises InputError, naming them, where packets are gone.
    """
    part = into.with_name(f"{into.name}.rebuild")
    if not into.is_file():
        raise InputError(
            "there is no such collection",
            where=str(into),
            what_to_do="check the path, or leave out --rebuild",
        )
    with opened(into, writes=True) as connection:
        check_form(connection, into)
        tables = TablesHeld(connection)
        check_pseudonyms(tables, into, how.terms)
        packets = tables.ask(
            "SELECT path, sha256 FROM packet WHERE is_verified ORDER BY packet_id"
        )
        kept = _kept(tables)
        _remove(part)
        sources = {container(path): None for path, _ in packets}
        found = [path for path in sources if path is not None]
        also = Also(
            own=(into,),
            files=tuple(
                FoundFile(path, digest, data)
                for digest, (path, data) in kept.items()
                if packet_again(path, digest) is None
            ),
            again=lambda path, digest: _again(kept, path, digest),
        )
        done = collect([*found, *folders], part, how, also)
        gone = _gone(part, packets)
        if gone:
            _remove(part)
            raise _refused(gone, into)
    part.replace(into)
    return done


def _kept(tables: TablesHeld) -> dict[bytes, tuple[str, bytes]]:
    """Return by digest the packets that are kept whole, with their paths."""
    found = tables.ask(
        "SELECT path, content FROM kept_packet JOIN packet USING (packet_id)"
    )
    return {
        sha256(content).digest(): (str(path), bytes(content)) for path, content in found
    }


def _again(
    kept: dict[bytes, tuple[str, bytes]], path: str, digest: bytes
) -> bytes | None:
    return kept[digest][1] if digest in kept else packet_again(path, digest)


def _gone(part: Path, packets: Sequence[tuple[str, bytes]]) -> list[str]:
    """Return the paths of packets that are not in the new collection."""
    with opened(part, writes=False) as connection:
        found = TablesHeld(connection).ask(
            "SELECT sha256 FROM packet WHERE is_verified"
        )
    here = {bytes(digest) for (digest,) in found}
    return [path for path, digest in packets if bytes(digest) not in here]


def _refused(gone: Sequence[str], into: Path) -> InputError:
    named = ", ".join(gone[:_SHOWN])
    more = f" and {len(gone) - _SHOWN} more" if len(gone) > _SHOWN else ""
    many = plural(len(gone), "of its packets is", "of its packets are")
    return InputError(
        f"{many} gone, or no longer what it was: {named}{more}",
        where=str(into),
        what_to_do="name the folders where they lie now, or collect what is there "
        "into a new file",
    )


def _remove(part: Path) -> None:
    for name in (part.name, f"{part.name}.wal"):
        part.with_name(name).unlink(missing_ok=True)

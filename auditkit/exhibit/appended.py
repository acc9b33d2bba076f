"""Whether what was appended to a PDF is nothing but signatures that do not show.

An incremental update (ISO 32000-2, 7.5.6) may put another page in place of one that a
reader of the first bytes would see. So every object that an update replaces is held
against what it was: a page may gain signature fields without any area, the catalogue
the form that lists them, and the file's own data the day of the change. Any other
replacement is refused.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any, NoReturn
from xml.etree import ElementTree as ET

from pyhanko.pdf_utils import generic
from pyhanko.pdf_utils.misc import PdfReadError

from auditkit.errors import VerificationError

if TYPE_CHECKING:
    from pyhanko.pdf_utils.generic import DictionaryObject, PdfObject
    from pyhanko.pdf_utils.reader import PdfFileReader

MEND = "rely on the attached packet alone, and ask for the exhibit again"
_CATALOGUE = frozenset({"/AcroForm", "/DSS", "/Extensions", "/Version"})
_INFORMATION = frozenset({"/ModDate", "/Producer"})
_CHANGED = ("}ModifyDate", "}MetadataDate", "}Producer", "}xmptk")
_RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
_FORM = frozenset({"/Fields", "/SigFlags"})
_FIELD = frozenset(
    {"/AP", "/F", "/FT", "/Ff", "/Lock", "/P", "/Rect", "/SV", "/StructParent"}
    | {"/Subtype", "/T", "/TU", "/Type", "/V"}
)


def only_signatures(reader: PdfFileReader, pages: PdfFileReader) -> None:
    """Check that ``reader``, the whole file, shows what ``pages``, its start, shows.

    Raises VerificationError where an update does more than add unseen signatures.
    """
    table = reader.xrefs
    if (
        table.hybrid_xrefs_present
        or table.get_startxref_for_revision(0)
        != pages.xrefs.get_startxref_for_revision(0)
        or _number(reader, "/Root") != _number(pages, "/Root")
        or "/Encrypt" in reader.trailer
    ):
        _refuse("puts another document in its place")
    for revision in range(1, table.total_revisions):
        _listed_once(reader, revision)
        if table.object_streams_used_in(revision):  # type: ignore[no-untyped-call]
            _refuse("hides objects in a stream, which programs read differently")
        if table.refs_freed_in_revision(revision):
            _refuse("takes something out of it")
        for ref in table.explicit_refs_in_revision(revision):
            before = _before(pages, ref.idnum, ref.generation)
            if before is not None:
                _replaced(ref.idnum, before, _object(reader, ref), pages)
    form = _member(reader.root, "/AcroForm", {})
    if not set(form.keys()) <= _FORM:
        _refuse("adds a form that does more than list signatures")
    for field in _member(form, "/Fields", []):
        _unseen(field)


def _listed_once(reader: PdfFileReader, revision: int) -> None:
    """Check that an update lists each object once: of two, programs take either."""
    section = reader.xrefs.get_xref_container_info(revision)
    if section.stream_ref is not None:
        held = _object(reader, section.stream_ref)
        spans = [int(n) for n in _member(held, "/Index", [0, section.size])]
        pairs = list(zip(spans[::2], spans[1::2], strict=True))
    else:
        reader.stream.seek(section.declared_startxref)
        words = reader.stream.read().partition(b"trailer")[0].split()
        pairs, at = [], 1
        while at < len(words):
            pairs.append((int(words[at]), int(words[at + 1])))
            at += 2 + 3 * pairs[-1][1]
    numbers = [n for first, count in pairs for n in range(first, first + count)]
    if len(set(numbers)) != len(numbers):
        _refuse("lists an object twice")


def _refuse(what: str) -> NoReturn:
    raise VerificationError(
        f"what was appended to it is more than a signature: it {what}", what_to_do=MEND
    )


def _number(reader: PdfFileReader, name: str) -> int | None:
    try:
        value = reader.trailer.raw_get(name)
    except KeyError:
        return None
    return value.idnum if isinstance(value, generic.IndirectObject) else None


def _before(pages: PdfFileReader, number: int, generation: int) -> PdfObject | None:
    """Return an object as it first was, or None where there was none."""
    try:
        return _object(pages, generic.Reference(number, generation, pages))
    except PdfReadError:
        return None


def _object(reader: Any, ref: object) -> PdfObject:  # noqa: ANN401  untyped there
    found: PdfObject = reader.get_object(ref)
    return found


def _member(value: Any, name: str, otherwise: Any) -> Any:  # noqa: ANN401  untyped
    """Return a member, an object where it is only referred to."""
    return value[name] if name in value else otherwise  # noqa: SIM401  get refers


def _replaced(
    number: int, before: PdfObject, now: PdfObject, pages: PdfFileReader
) -> None:
    """Check one object that an update replaces."""
    if not isinstance(before, generic.DictionaryObject) or not isinstance(
        now, generic.DictionaryObject
    ):
        _refuse("replaces what it shows")
    metadata = pages.root.raw_get("/Metadata")
    if number == _number(pages, "/Root"):
        _same(before, now, _CATALOGUE)
    elif number == _number(pages, "/Info"):
        _same(before, now, _INFORMATION)
    elif isinstance(metadata, generic.IndirectObject) and number == metadata.idnum:
        _same(before, now, frozenset({"/Length", "/Filter"}))
        if not _described(now) <= _described(before):
            _refuse("changes what it says of itself")
    elif _member(before, "/Type", "") == "/Page" and "/Annots" not in before:
        _same(before, now, frozenset({"/Annots"}))
        for field in _member(now, "/Annots", []):
            _unseen(field)
    else:
        _refuse("replaces what it shows")


def _described(metadata: Any) -> set[tuple[str, str]]:  # noqa: ANN401  untyped there
    """Return what XMP (ISO 16684-1) says of the document, but when it was changed.

    A property may be an element or an attribute: both are one to XMP.
    """
    found: set[tuple[str, str]] = set()
    for element in ET.fromstring(metadata.data).iter():  # noqa: S314  expat 2.4 and newer stops entity bombs
        found |= {pair for pair in element.attrib.items() if _RDF not in pair[0]}
        found.add((element.tag, (element.text or "").strip()))
    return {pair for pair in found if pair[1] and not pair[0].endswith(_CHANGED)}


def _same(
    before: DictionaryObject, now: DictionaryObject, free: frozenset[str]
) -> None:
    if _written(before, free) != _written(now, free):
        _refuse("changes what it shows")


def _written(value: DictionaryObject, free: frozenset[str]) -> dict[str, bytes]:
    written: dict[str, bytes] = {}
    for name in value.keys() - free:
        stream = io.BytesIO()
        value.raw_get(name).write_to_stream(stream, None)
        written[str(name)] = stream.getvalue()
    return written


def _unseen(field: Any) -> None:  # noqa: ANN401  untyped there
    """Check that a form's field is a signature without any area on a page."""
    if isinstance(field, generic.IndirectObject):
        field = field.get_object()  # type: ignore[no-untyped-call]
    if (
        not isinstance(field, generic.DictionaryObject)
        or not set(field.keys()) <= _FIELD
        or (_member(field, "/FT", ""), _member(field, "/Subtype", ""))
        != ("/Sig", "/Widget")
        or any(float(edge) for edge in _member(field, "/Rect", [1]))
    ):
        _refuse("adds something that can be seen")

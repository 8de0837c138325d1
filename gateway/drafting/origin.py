"""Bytes -> where the readings stand, whatever the outer form: one table, the facts around it, what the form needs."""

from collections.abc import Iterator
from dataclasses import dataclass

from gateway.drafting import branches, facts, in_json, in_xml, numbers, sheets, widths
from gateway.drafting.encoding import Decoded, decoded
from gateway.drafting.facts import Fact
from gateway.drafting.guess import Guess, NoDraft
from gateway.drafting.sheets import Sheet
from gateway.drafting.table import Table, find
from gateway.drafting.words import Words
from gateway.read.archive import is_archive
from gateway.read.held import Held
from gateway.read.opened import Opened
from gateway.read.tree_json import loaded as json_loaded
from gateway.read.tree_json import looks_like_json
from gateway.read.tree_xml import loaded as xml_loaded

NO_TABLE = NoDraft(
    "No header row with a time, a systolic and a diastolic pressure was recognised, and no list of XML or JSON with "
    "such names. Write the map by hand (mappings/README.md), beginning with [signs]."
)
FHIR = NoDraft(
    "This is FHIR. The map 'fhir-bundle' reads Bundles of Observations; copy it and change what differs "
    "(mappings/README.md, FHIR R4)."
)
HL7 = NoDraft(
    "This is HL7 version 2. The map 'hl7-oru' reads observation results; copy it and change what differs "
    "(mappings/README.md, HL7 version 2)."
)
_HL7_STARTS = (b"MSH|", b"FHS|", b"BHS|")


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """Readings as a table, the facts around it, and the guesses of [format]. `read_as`: encoding or kind of file.
    `grid`: rows of cells, so that a footer may follow and the header is a row.
    """

    table: Table
    above: tuple[Fact, ...]
    form: tuple[Guess, ...]
    read_as: str
    grid: bool = True


def origin(content: bytes, words: Words) -> Origin | NoDraft:
    """What kind of file it is, and where its readings stand."""
    start = content[:4096].replace(b"\0", b"").lstrip(b"\xef\xbb\xbf\xfe\xff \t\r\n")
    try:
        if is_archive(content):
            return _of_workbook(content, words)
        if start.startswith(_HL7_STARTS):
            return HL7
        if start.startswith(b"<"):
            return _of_xml(content, words)
        if looks_like_json(content):
            return _of_json(content, words)
    except Held as held:
        return NoDraft(f"{held.hold.sentence} {held.hold.action}")
    return _of_text(content, words)


def _of_workbook(content: bytes, words: Words) -> Origin | NoDraft:
    found = sheets.find(content, words)
    if not isinstance(found, Sheet):
        return found or NO_TABLE
    form = (Guess(key="format.kind", value="workbook"), sheets.guess(found))
    return _grid(found.table, form, "a workbook", words)


def _of_text(content: bytes, words: Words) -> Origin | NoDraft:
    text = decoded(content, words)
    if isinstance(text, NoDraft):
        return text
    if (table := find(text.text, words)) is not None:
        return _grid(table, tuple(_delimited(table, text)), text.encoding, words)
    ruled = widths.find(text.text, words)
    if ruled is None:
        return NO_TABLE
    form = (Guess(key="format.kind", value="fixed-width"), widths.guess(ruled), *_code_page(text))
    table = ruled.table if facts.separator(ruled.table) else widths.with_cells_above(ruled)
    return _grid(table, form, text.encoding, words)


def _grid(table: Table, form: tuple[Guess, ...], read_as: str, words: Words) -> Origin:
    sign = facts.separator(table)
    form = (*form, numbers.decimal_mark(table))
    if sign is not None:
        said = "stands in most rows above the table"
        form = (*form, Guess(key="format.fact_separator", value=sign, evidence=said))
    return Origin(table=table, above=facts.found(table, words, sign), form=form, read_as=read_as)


def _delimited(table: Table, text: Decoded) -> Iterator[Guess]:
    yield Guess(key="format.kind", value="delimited")
    wide = sum(any(cell.strip() for cell in cells[len(table.header[1]) :]) for _, cells in table.body)
    said = f"it gives {len(table.columns)} columns that are known by their words"
    if wide:
        said += f"; but {wide} rows have more cells than the header"
    if table.tied:
        said += "; another delimiter gives as many"
    yield Guess(key="format.delimiter", value=table.delimiter, evidence=said, proven=not table.tied and not wide)
    yield from _code_page(text)


def _code_page(text: Decoded) -> Iterator[Guess]:
    if text.code_page is not None:
        asked = (
            f"the file is not UTF-8; it can be read as {text.code_page}, but so it can as others: look at the letters"
        )
        yield Guess(key="format.code_page", value=text.code_page, evidence=asked, proven=False)


def _of_json(content: bytes, words: Words) -> Origin | NoDraft:
    root, encoding = json_loaded(Opened(content, ""))
    if in_json.is_fhir(root):
        return FHIR
    found = branches.best(in_json.branches(root), words)
    if found is None:
        return NO_TABLE
    form = (Guess(key="format.kind", value="json"), branches.rows_guess(found), *numbers.commas(found.table))
    return _tree(found, in_json.outside(root, found.path), form, f"JSON in {encoding}", words)


def _of_xml(content: bytes, words: Words) -> Origin | NoDraft:
    tree = in_xml.tree(xml_loaded(Opened(content, "")))
    found = branches.best(in_xml.branches(tree), words)
    if found is None:
        return NO_TABLE
    form = [Guess(key="format.kind", value="xml"), branches.rows_guess(found), numbers.decimal_mark(found.table)]
    if tree.namespaces:
        said = "all namespaces of the file; the prefixes are ours"
        form.append(Guess(key="format.namespaces", value=dict(tree.namespaces), evidence=said))
    return _tree(found, in_xml.outside(tree, found.path), tuple(form), "XML", words)


def _tree(
    found: branches.Found, outside: list[tuple[str, str]], form: tuple[Guess, ...], read_as: str, words: Words
) -> Origin:
    above = branches.facts(outside, words)
    return Origin(table=found.table, above=above, form=form, read_as=read_as, grid=False)

"""XML documents -> values at paths. No document type, no entities, a measure for size and depth."""

import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from xml.etree.ElementTree import Element, ParseError

from defusedxml import DefusedXmlException
from defusedxml.ElementTree import iterparse

from gateway.mapping.source import SourceMap
from gateway.mapping.source_format import Xml
from gateway.model import HoldReason
from gateway.read.extract import Extract
from gateway.read.held import Held
from gateway.read.opened import Opened
from gateway.read.tree import known_paths, not_known, outline, shows_signs

MOST_DEPTH = 50
MOST_NODES = 300_000
_DECLARED = re.compile(rb"""<\?xml[^>]{0,80}encoding=["']([A-Za-z0-9_.-]{1,40})["']""")
_LAST = re.compile(r"(.+)/([^/\[\]']+(?:\[[^\]]*\])?)")
_CONDITION = re.compile(r"\[@([A-Za-z_][\w.-]*)=")
_ATTRIBUTE = re.compile(r"(.*/|)@([^/\]]+)")


def claims(file: Opened, source: SourceMap, form: Xml) -> bool:
    """Is it XML with the signs of the map? Raises Held for hostile or damaged XML."""
    start = file.content[:4096].replace(b"\0", b"").lstrip(b"\xef\xbb\xbf\xfe\xff \t\r\n")
    return start.startswith(b"<") and shows_signs(extract(file, source, form)[0], source)


def extract(file: Opened, source: SourceMap, form: Xml) -> tuple[Extract, str]:
    """Facts and rows, and the encoding that the document declares."""
    root = loaded(file)

    def texts(node: Element, path: str, gaps: bool) -> Sequence[str]:
        return _texts(node, path, form, gaps)

    rows = root.findall(form.rows, form.namespaces)
    found = outline(root, rows, texts, source)
    unknown = _unreached(root, rows, source, form)
    return replace(found, remarks=not_known(unknown, "elements and attributes")), _encoding(file.content)


def loaded(file: Opened) -> Element:
    """The root of the document. Raises Held when it is no XML, hostile or out of all measure."""
    return file.once("xml", lambda: _parsed(file.content))


def _unreached(root: Element, rows: Sequence[Element], source: SourceMap, form: Xml) -> int:
    """How many elements with text and attributes no path of the map reaches, nor asks for as a condition."""
    above, beside = known_paths(source)
    paths = [(root, path) for path in above if form.fault(path) is None]
    paths += [(row, path) for row in rows for path in beside if form.fault(path) is None]
    reached = {(id(each), name) for node, path in paths for each, name in _reached(node, path, form)}
    conditions = {name for path in (*above, *beside, form.rows) for name in _CONDITION.findall(path)}
    return sum(
        (bool((each.text or "").strip()) and (id(each), "") not in reached)
        + sum((id(each), name) not in reached and name not in conditions for name in each.attrib if _ours(name))
        for each in root.iter()
    )


def _ours(attribute: str) -> bool:
    """Attributes of XML itself (language, location of a schema) say nothing about a recording."""
    return not attribute.startswith(("{http://www.w3.org/",))


def _reached(node: Element, path: str, form: Xml) -> Iterator[tuple[Element, str]]:
    """The elements at a path, with the attribute (in the spelling of the parser) that it ends at, or nothing."""
    way, key = _split(path, form)
    for each in node.findall(way, form.namespaces) if way else [node]:
        yield each, key


def _split(path: str, form: Xml) -> tuple[str, str]:
    """The way to the elements, and the attribute that the path ends at."""
    found = _ATTRIBUTE.fullmatch(path)
    if found is None:
        return path, ""
    prefix, _, local = found[2].rpartition(":")
    return found[1].removesuffix("/"), f"{{{form.namespaces[prefix]}}}{local}" if prefix else local


def _parsed(content: bytes) -> Element:
    root: Element | None = None
    depth, nodes = 0, 0
    try:
        for event, element in iterparse(io.BytesIO(content), events=("start", "end"), forbid_dtd=True):
            root = element if root is None else root
            depth += 1 if event == "start" else -1
            nodes += 1 + len(element.attrib) if event == "start" else 0
            if depth > MOST_DEPTH or nodes > MOST_NODES:
                raise Held(HoldReason.FILE_HOSTILE, "the XML is nested too deep or has too many elements")
    except DefusedXmlException:
        raise Held(HoldReason.FILE_HOSTILE, "the XML declares a document type or entities") from None
    except (ParseError, LookupError, ValueError) as error:
        line = getattr(error, "position", (0, 0))[0]
        raise Held(HoldReason.FILE_UNREADABLE, f"the XML is damaged in line {line}") from None
    if root is None:
        raise Held(HoldReason.FILE_UNREADABLE, "the XML is empty")
    return root


def _encoding(content: bytes) -> str:
    if content.startswith((b"\xfe\xff", b"\xff\xfe")):
        return "utf-16"
    found = _DECLARED.match(content.removeprefix(b"\xef\xbb\xbf"))
    return found[1].decode("ascii").lower() if found else "utf-8"


def _texts(node: Element, path: str, form: Xml, gaps: bool) -> Sequence[str]:
    """Text of every element, or the attribute of every element that has it. With `gaps` an empty text for every
    element above that has none.
    """
    way, key = _split(path, form)
    if gaps and not key and (found := _LAST.fullmatch(path)):
        above = node.findall(found[1], form.namespaces)
        return [text for each in above for text in _texts(each, found[2], form, False) or [""]]
    nodes = node.findall(way, form.namespaces) if way else [node]
    if not key:
        return [_whole(each) for each in nodes]
    return [each.attrib.get(key, "") for each in nodes if gaps or key in each.attrib]


def _whole(element: Element) -> str:
    """The text of an element. Raises Held when elements stand inside, whose text would be cut off."""
    if len(element):
        raise Held(HoldReason.VALUE_UNREADABLE, "a path of the map ends at an element with others inside")
    return element.text or ""

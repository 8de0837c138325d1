"""JSON documents -> values at paths. Numbers keep their digits as text; a name that stands twice is refused."""

import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any, NoReturn

from gateway.mapping.source import SourceMap
from gateway.mapping.source_format import Json
from gateway.model import HoldReason
from gateway.read.extract import Extract, Figure
from gateway.read.held import Held
from gateway.read.opened import Opened
from gateway.read.text import decode
from gateway.read.tree import known_paths, not_known, outline, shows_signs

MOST_VALUES = 500_000
_HALF = re.compile("[\ud800-\udfff]")
_HALF_ESCAPED = re.compile(r"\\u[dD][89a-fA-F]")


def looks_like_json(content: bytes) -> bool:
    """Does it begin as an object or a list does?"""
    start = content[:4096].replace(b"\0", b"").lstrip(b"\xef\xbb\xbf\xfe\xff \t\r\n")
    return start.startswith((b"{", b"["))


def claims(file: Opened, source: SourceMap, form: Json) -> bool:
    """Is it JSON with the signs of the map? Raises Held for hostile or damaged JSON."""
    return looks_like_json(file.content) and shows_signs(extract(file, source, form)[0], source)


def extract(file: Opened, source: SourceMap, form: Json) -> tuple[Extract, str]:
    """Facts and rows, and the encoding."""
    root, encoding = loaded(file)
    found = outline(root, _reached(root, form.rows), _texts, source)
    above, beside = known_paths(source)
    known = above | {f"{form.rows}/{path}" if form.rows else path for path in beside}
    unknown = {path for path, _ in _leaves(root)} - known
    return replace(found, remarks=not_known(len(unknown), "paths of the document")), encoding


def loaded(file: Opened) -> tuple[Any, str]:
    """The document and its encoding. Raises Held when it is no JSON (RFC 8259) or out of all measure."""
    return file.once("json", lambda: _parsed(file.content))


def _parsed(content: bytes) -> tuple[Any, str]:
    text, encoding = decode(content, None)
    if sum(map(text.count, "[{,")) > MOST_VALUES:
        raise Held(HoldReason.FILE_HOSTILE, f"the JSON has more than {MOST_VALUES} values")
    try:
        root = json.loads(
            text, parse_int=Figure, parse_float=Figure, parse_constant=_refused, object_pairs_hook=_once
        )
    except RecursionError:
        raise Held(HoldReason.FILE_HOSTILE, "the JSON is nested too deep") from None
    except ValueError as error:
        line = getattr(error, "lineno", 0)
        raise Held(HoldReason.FILE_UNREADABLE, f"the JSON is damaged in line {line}") from None
    # half of a letter (\\ud800 alone) is no text that could be written again; only an escape can bring it in
    if _HALF_ESCAPED.search(text) and any(_HALF.search(part) for path in _leaves(root) for part in path):
        raise Held(HoldReason.FILE_ENCODING, "the JSON holds half of a letter")
    return root, encoding


def _leaves(root: Any) -> Iterator[tuple[str, str]]:
    """Path and text of every value that is no group; lists make no step of the path."""
    waiting: list[tuple[str, Any]] = [("", root)]
    while waiting:
        path, node = waiting.pop()
        if isinstance(node, dict):
            waiting += [(f"{path}/{name}" if path else name, each) for name, each in node.items()]
        elif isinstance(node, list):
            waiting += [(path, each) for each in node]
        else:
            yield path, node if isinstance(node, str) else ""


def _refused(_: str) -> NoReturn:
    raise Held(HoldReason.FILE_UNREADABLE, "the JSON holds NaN or Infinity")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise Held(HoldReason.FACTS_DISAGREE, "the JSON holds a name twice in one object")
    return found


def _reached(node: Any, path: str) -> list[Any]:
    """Everything at the path; a list stands for each of its members."""
    nodes = [node]
    for step in path.split("/") if path else ():
        nodes = [each[step] for each in _members(nodes) if isinstance(each, dict) and step in each]
    return _members(nodes)


def _members(nodes: list[Any]) -> list[Any]:
    found: list[Any] = []
    for node in nodes:
        found.extend(node if isinstance(node, list) else [node])
    return found


def _texts(node: Any, path: str, gaps: bool) -> Sequence[str]:
    if not gaps:
        return [_text(each) for each in _reached(node, path)]
    way, _, name = path.rpartition("/")
    groups = _reached(node, way) if way else [node]
    found = [_members([each[name]]) if name in each else [""] for each in groups if isinstance(each, dict)]
    return [_text(each) for values in found for each in values]


def _text(value: Any) -> str:
    if isinstance(value, str):
        return value
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    raise Held(HoldReason.VALUE_UNREADABLE, "a path of the map ends at a group instead of a value")

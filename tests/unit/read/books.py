"""Workbooks for tests: .xlsx and .ods from rows of Python values."""

import io
import zipfile
from collections.abc import Callable, Sequence
from datetime import date, datetime, time, timedelta
from typing import Any
from xml.sax.saxutils import escape, quoteattr

from openpyxl import Workbook, load_workbook

from tests.unit.read.layouts import a_map

BOOK = a_map(format={"kind": "workbook"}, readings={"time": {"how": "instant", "column": "taken", "pattern": "iso"}})
HEAD = [("number", "A0042"), (), ("taken", "upper", "lower", "beats")]
NS = (
    'xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
    'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"'
)


def xlsx(rows: Sequence[Sequence[Any]], change: Callable[[Any], None] = lambda book: None) -> bytes:
    book = Workbook()
    assert book.active is not None
    for row in rows:
        book.active.append(row)
    change(book)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def again(content: bytes, change: Callable[[Any], None]) -> bytes:
    book = load_workbook(io.BytesIO(content))
    change(book)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def with_part(content: bytes, name: str, change: Callable[[bytes], bytes]) -> bytes:
    """The same archive with one part changed."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for entry in old.namelist():
            part = old.read(entry)
            new.writestr(entry, change(part) if entry == name else part)
    return out.getvalue()


def ods(rows: Sequence[Sequence[Any]], tail: str = "") -> bytes:
    body = "".join(f"<table:table-row>{''.join(map(_cell, row))}</table:table-row>" for row in rows)
    table = f'<table:table table:name="One">{body}{tail}</table:table>'
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {NS}><office:body><office:spreadsheet>'
        f"{table}</office:spreadsheet></office:body></office:document-content>"
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet", zipfile.ZIP_STORED)
        archive.writestr("content.xml", content)
    return out.getvalue()


def _cell(value: Any) -> str:
    def typed(kind: str, name: str, text: str) -> str:
        return f'<table:table-cell office:value-type="{kind}" office:{name}={quoteattr(text)}/>'

    match value:
        case None | "":
            return "<table:table-cell/>"
        case bool():
            return typed("boolean", "boolean-value", str(value).lower())
        case int() | float():
            return typed("float", "value", repr(value))
        case datetime():
            return typed("date", "date-value", f"{value:%Y-%m-%dT%H:%M:%S}")
        case date():
            return typed("date", "date-value", value.isoformat())
        case time():
            return typed("time", "time-value", f"{value:PT%HH%MM%SS}")
        case timedelta():
            minutes = int(value.total_seconds()) // 60
            return typed("time", "time-value", f"PT{minutes // 60:02}H{minutes % 60:02}M00S")
    return f'<table:table-cell office:value-type="string"><text:p>{escape(str(value))}</text:p></table:table-cell>'

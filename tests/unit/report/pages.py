"""Reads a rendered page back by tools that had no part in making it: pypdf for text, pypdfium2 for pictures."""

import io
import re
from functools import cache

import pypdfium2
from PIL import Image
from pypdf import PdfReader

from gateway.report import render
from tests.unit.report.cases import BY_NAME


@cache
def pdf_of(name: str) -> bytes:
    case = BY_NAME[name]
    return render(case.recording, case.summary, case.letterhead)


def reader(content: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(content))


def text_of(content: bytes) -> str:
    """All text in reading order, white space made one, places to break at taken out."""
    text = " ".join(page.extract_text() for page in reader(content).pages)
    return re.sub(r"\s+", " ", text.replace("\u200b", "").replace("\u00a0", " "))


def pictures(content: bytes, scale: float) -> list[Image.Image]:
    return [page.render(scale=scale).to_pil().convert("RGB") for page in pypdfium2.PdfDocument(content)]

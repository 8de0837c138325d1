"""Typst, kept warm: one compiler per thread, our fonts only, nothing from the network."""

import threading
from collections.abc import Mapping
from pathlib import Path

import typst

from gateway.errors import GatewayError

HERE = Path(__file__).resolve().parent
TEMPLATE = HERE / "template" / "page.typ"
NOTICE = HERE / "template" / "notice.typ"
FONTS = HERE / "fonts"


class ReportError(GatewayError):
    """The page could not be set. Carries no text of the page."""


_warm = threading.local()
"""a compiler serves one thread at a time, and reading the fonts is the dear part: each thread keeps its own"""


def typeset(inputs: Mapping[str, str], seconds: int, template: Path = TEMPLATE) -> bytes:
    """The page as PDF/A-2a and PDF/UA-1, dated `seconds` since 1970. Raises ReportError."""
    try:
        found = _compiler().compile(
            str(template), format="pdf", sys_inputs=dict(inputs), pdf_standards=["a-2a", "ua-1"], timestamp=seconds
        )
    except RuntimeError:  # Typst's own error is one; its text may quote the page, so it is not passed on
        raise ReportError("the report page could not be set") from None
    if not isinstance(found, bytes):
        raise ReportError("the report page came out in pieces")
    return found


def _compiler() -> typst.Compiler:
    if not hasattr(_warm, "compiler"):
        _warm.compiler = typst.Compiler(root=str(TEMPLATE.parent), font_paths=[str(FONTS)], ignore_system_fonts=True)
    compiler: typst.Compiler = _warm.compiler
    return compiler

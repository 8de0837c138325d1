"""Typst, kept warm: one compiler per thread, our fonts only, nothing from the network."""

import threading
from collections.abc import Mapping
from importlib.resources import as_file, files

import typst

from gateway.errors import GatewayError

STANDARDS = ["a-2a", "ua-1"]


class ReportError(GatewayError):
    """The page could not be set. Carries no text of the page."""


class _Warm(threading.local):
    """The compiler of the running thread; a compiler serves one thread at a time."""

    def __init__(self) -> None:
        with as_file(files("gateway.report")) as folder:
            self.template = str(folder / "template" / "page.typ")
            self.compiler = typst.Compiler(
                root=str(folder / "template"), font_paths=[str(folder / "fonts")], ignore_system_fonts=True
            )


_warm = _Warm()


def typeset(inputs: Mapping[str, str], seconds: int) -> bytes:
    """The page as PDF/A-2a and PDF/UA-1, dated `seconds` since 1970. Raises ReportError."""
    try:
        found = _warm.compiler.compile(
            _warm.template, format="pdf", sys_inputs=dict(inputs), pdf_standards=STANDARDS, timestamp=seconds
        )
    except (typst.TypstError, RuntimeError) as error:
        raise ReportError("the report page could not be set") from error
    return bytes(found)

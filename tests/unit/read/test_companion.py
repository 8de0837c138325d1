"""The frame of a PDF that comes beside an export. Real PDFs: our own page, and the same encrypted by another library.

Source of the frame: ISO 32000-1:2008, 7.5.2 (header), 7.5.5 (trailer), 7.6 (encryption), from memory.
"""

from functools import cache
from io import BytesIO

import pytest
from pypdf import PdfReader, PdfWriter

from gateway.model import Companion, CompanionFault
from gateway.read.companion import companion
from gateway.report import Letterhead, render
from tests.builders import a_recording
from tests.unit.fhir.building import a_summary

MOST = 10_000_000


@cache
def a_pdf() -> bytes:
    recording = a_recording()
    return render(recording, a_summary(recording), Letterhead(organisation="Example Surgery", software="test"))


def encrypted(algorithm: str) -> bytes:
    writer = PdfWriter(clone_from=PdfReader(BytesIO(a_pdf())))
    writer.encrypt(user_password="", owner_password="owner", algorithm=algorithm)
    out = BytesIO()
    writer.write(out)
    return out.getvalue()


def test_a_real_pdf_is_kept_byte_for_byte() -> None:
    found = companion(a_pdf(), MOST)
    assert found.fault is None
    assert found.content == found.filed == a_pdf()


@pytest.mark.parametrize("algorithm", ["RC4-40", "RC4-128", "AES-256"])
def test_an_encrypted_pdf_is_known_even_where_its_password_is_empty(algorithm: str) -> None:
    content = encrypted(algorithm)
    assert PdfReader(BytesIO(content)).is_encrypted  # the other library agrees
    found = companion(content, MOST)
    assert found.fault is CompanionFault.ENCRYPTED and found.filed is None
    assert found.content == content, "it is kept all the same"


def test_encryption_is_known_behind_a_compressed_table_of_references() -> None:
    stream = b"5 0 obj\n<</Type/XRef/Size 6/Root 1 0 R/Encrypt 4 0 R/Length 0>>stream\n\nendstream endobj\n"
    assert companion(b"%PDF-1.7\n" + stream + b"startxref\n9\n%%EOF\n", MOST).fault is CompanionFault.ENCRYPTED


@pytest.mark.parametrize(
    ("content", "fault"),
    [
        (b"", CompanionFault.NOT_PDF),
        (b"time,sys,dia\n", CompanionFault.NOT_PDF),
        (b"\n%PDF-1.7\n%%EOF", CompanionFault.NOT_PDF),
        (b"PK\x03\x04%PDF-1.7 %%EOF", CompanionFault.NOT_PDF),
        (b"<html>%PDF-1.4", CompanionFault.NOT_PDF),
        (b"%PDF-1.7\n", CompanionFault.CUT_OFF),
        (b"%PDF-1.7\n%%EOF" + b" " * 2000, CompanionFault.CUT_OFF),
    ],
)
def test_what_is_no_whole_pdf_is_not_filed(content: bytes, fault: CompanionFault) -> None:
    assert companion(content, MOST).fault is fault


def test_a_pdf_that_was_cut_off_is_not_filed() -> None:
    assert companion(a_pdf()[:-1200], MOST).fault is CompanionFault.CUT_OFF


def test_the_limit_is_the_site_s() -> None:
    size = len(a_pdf())
    assert companion(a_pdf(), size).fault is None
    assert companion(a_pdf(), size - 1).fault is CompanionFault.TOO_LARGE


@pytest.mark.parametrize("fault", CompanionFault)
def test_every_fault_is_said_in_words(fault: CompanionFault) -> None:
    sentence = Companion(content=None, fault=fault).sentence
    assert sentence is not None and "not filed" in sentence

"""Every language says everything, nothing forbidden is said, and no label is idle."""

import re
import string
from pathlib import Path

import pytest

import gateway.report
from gateway.model import Kind, NoteKind, PeriodName, ScheduleOrigin, Sex, Use, Verdict, WindowOrigin
from gateway.report.text import MISSING_LETTER, plain
from gateway.report.words import languages, words_of
from tests.unit.report.cases import CASES
from tests.unit.report.pages import pdf_of, text_of

FOLDER = Path(gateway.report.__file__).parent
FORBIDDEN = re.compile(r"hypert(ension|onie)|diagnos(is|e|tic de)|\bcontrolled\b|\bnormal|normotens", re.IGNORECASE)


def gaps(label: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(label) if name}


def test_three_languages_are_shipped() -> None:
    assert languages() == ("de", "en", "fr")


@pytest.mark.parametrize("language", languages())
def test_no_label_is_missing_empty_or_left_over(language: str) -> None:
    first, words = words_of("en"), words_of(language)
    assert set(words.labels) == set(first.labels)
    assert [key for key, label in words.labels.items() if not label.strip()] == []
    assert {key: gaps(label) for key, label in words.labels.items()} == {
        key: gaps(label) for key, label in first.labels.items()
    }
    assert len(set(words.months)) == 12


@pytest.mark.parametrize("language", languages())
def test_every_letter_of_a_label_is_in_the_fonts(language: str) -> None:
    words = words_of(language)
    for label in (*words.labels.values(), *words.months):
        assert MISSING_LETTER not in plain(label, 500)


@pytest.mark.parametrize("language", languages())
def test_every_member_of_a_closed_list_has_a_label(language: str) -> None:
    wanted = [*PeriodName, *Verdict]
    wanted += [f"windows-{one}" for one in WindowOrigin] + [f"schedule-{one}" for one in ScheduleOrigin]
    wanted += [f"use-{one}" for one in Use] + [f"kind-{one}" for one in Kind] + [f"note-{one}" for one in NoteKind]
    wanted += [f"sex-{one}" for one in Sex] + [f"zone-{one}" for one in ("cell", "file", "site", "assumed")]
    assert set(wanted) <= set(words_of(language).labels)


def test_no_label_is_idle() -> None:
    """A label is used by its whole name, or by the front part of its name with a member of a list behind."""
    code = "".join(path.read_text("utf-8") for path in FOLDER.glob("*.py"))
    named = set(re.findall(r"[\"']([a-z0-9-]+)[\"']", code))
    fronts = tuple(re.findall(r"f[\"']([a-z-]+-)\{", code))
    members = {str(one) for one in (*PeriodName, *Verdict)}
    idle = [key for key in words_of("en").labels if key not in named | members and not key.startswith(fronts)]
    assert idle == []


@pytest.mark.parametrize("language", languages())
def test_no_label_names_what_a_person_has(language: str) -> None:
    assert [label for label in words_of(language).labels.values() if FORBIDDEN.search(label)] == []


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_no_page_names_what_a_person_has(case) -> None:  # type: ignore[no-untyped-def]
    text = text_of(pdf_of(case.name)).replace(case.summary.rules.guideline_title, "")
    assert FORBIDDEN.findall(text) == []


def test_languages_differ_on_the_page() -> None:
    assert "Automatisch erstellt, noch nicht gesichtet" in text_of(pdf_of("polish-german"))
    assert "Établi automatiquement, pas encore relu" in text_of(pdf_of("no-heart-rate-french"))

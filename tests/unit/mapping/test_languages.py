"""Every sentence that the product can form exists in every language, and says in none of them what a person has."""

import re
from collections.abc import Iterator
from datetime import date
from decimal import Decimal

import pytest

from gateway.analyse.telling import told
from gateway.analyse.words import Because
from gateway.errors import MappingError
from gateway.mapping.language import ENGLISH, Language, gaps
from gateway.mapping.parse import parse
from gateway.model import Summary
from gateway.model.phrase import Phrase, joined
from gateway.report.text import MISSING_LETTER, plain
from gateway.report.words import languages as page_languages
from gateway.report.words import words_of
from gateway.settings.maps import load
from tests.unit.mapping.templates import templates
from tests.unit.report.cases import CASES
from tests.unit.report.summing import summary_of

LANGUAGES = load(None).languages
OTHERS = [language for name, language in sorted(LANGUAGES.items()) if name != "en"]
TEMPLATES = sorted(templates())
FORBIDDEN = {
    "en": r"hypertens|diagnosis|diagnosed|\bcontrolled|\bnormal|abnormal|disease|\bsuffer",
    "de": r"hypert[eo]n|bluthochdruck|diagnose|diagnostizier|kontrolliert|(gut|schlecht) eingestellt|\bnormal|"
    r"normoton|krank|leidet",
    "fr": r"hypertens|hypertendu|diagnostic\b|diagnostiqué|contrôlée?s?\b|\bnormal|normotendu|"
    r"anormal|maladie|souffre",
}
NAMES = "Hypertension Canada 2017"
"""the name of a guideline, which may say what it is about"""


def named(language: Language) -> str:
    return language.id


def test_english_and_two_more_for_sentences_and_labels_alike() -> None:
    assert sorted(LANGUAGES) == ["de", "en", "fr"] == sorted(page_languages())


def test_the_collector_finds_what_is_written_in_every_way() -> None:
    """In a closed list, in a call, in a choice, in a variable, in a table, and in a data file."""
    assert {
        "Treated: each limit is a diagnostic limit, not a treatment target.",
        "{hours} h {minutes} min",
        "{by} higher",
        "Only {valid} valid reading {period} ({least} are asked for).",
        "no systolic pressure",
        "24-hour {value} below {limit}",
        "corresponds to 130/80 in the clinic",
        "The sleep times in the file cannot be right.",
    } <= set(TEMPLATES)


@pytest.mark.parametrize("language", OTHERS, ids=named)
def test_no_sentence_is_missing_and_none_is_left_over(language: Language) -> None:
    assert sorted(set(TEMPLATES) - set(language.sentences)) == []
    assert sorted(set(language.sentences) - set(TEMPLATES)) == []
    assert [own for own in language.sentences.values() if not own.strip()] == []


@pytest.mark.parametrize("language", OTHERS, ids=named)
def test_a_sentence_keeps_its_gaps_its_end_and_its_letters(language: Language) -> None:
    for english, own in language.sentences.items():
        assert gaps(english) == gaps(own)
        assert english.endswith(".") == own.endswith(".")
        assert MISSING_LETTER not in plain(own, 500)


@pytest.mark.parametrize("language", LANGUAGES.values(), ids=named)
def test_no_sentence_says_what_a_person_has(language: Language) -> None:
    said = [language.tell(Phrase(template)) for template in TEMPLATES]
    forbidden = re.compile(FORBIDDEN[language.id], re.IGNORECASE)
    assert len(said) > 200
    assert [text for text in said if forbidden.search(text.replace(NAMES, ""))] == []
    labels = [*words_of(language.id).labels.values()]
    assert [text for text in labels if forbidden.search(text)] == []


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("de", "Hypertonie"),
        ("de", "gut eingestellt"),
        ("de", "die Diagnose"),
        ("de", "normaler Druck"),
        ("fr", "hypertension"),
        ("fr", "un diagnostic"),
        ("fr", "pression contrôlée"),
        ("fr", "normale"),
        ("en", "well controlled"),
    ],
)
def test_the_forbidden_words_are_found(language: str, text: str) -> None:
    assert re.search(FORBIDDEN[language], text, re.IGNORECASE)


@pytest.mark.parametrize("language", LANGUAGES.values(), ids=named)
def test_every_reason_begins_as_the_page_says_once_for_all(language: Language) -> None:
    label = words_of(language.id)["not-computable"]
    begin = f"{label[0].lower()}{label[1:]} "
    assert [why for why in Because if not language.tell(Phrase(why.value)).startswith(begin)] == []


def phrases_of(summary: Summary) -> Iterator[str]:
    yield from summary.conclusion
    yield from summary.adequacy.reasons
    yield summary.adequacy.rule
    yield from (one.sentence for one in summary.findings)
    yield from (one.text for one in summary.interpretations)
    yield from (one.reason for one in summary.statistics if one.reason)
    yield from (one.why for one in summary.judged if one.why)
    yield from filter(None, (summary.rules.windows_text, summary.rules.why_not, summary.rules.limits))
    yield from filter(None, (summary.review.sentence,))


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_every_sentence_of_a_result_can_be_said_again(case) -> None:  # type: ignore[no-untyped-def]
    """Each is a phrase, so nothing is left in English on a page in another language."""
    summary = summary_of(case.recording)
    said = list(phrases_of(summary))
    assert said
    assert [text for text in said if not isinstance(text, Phrase)] == []
    for language in OTHERS:
        again = list(phrases_of(told(summary, language)))
        assert len(again) == len(said)
        same = [one for one, other in zip(said, again, strict=True) if str(one) == str(other)]
        assert set(same) <= {"ESC 2024"}


def test_numbers_and_dates_are_written_as_the_language_does() -> None:
    german, french = LANGUAGES["de"], LANGUAGES["fr"]
    said = Phrase(
        "{place} {value} mmHg, {earlier} mmHg in the recording of {date}: systolic {systolic}, "
        "diastolic {diastolic}.",
        place=Phrase("{place} (day {day})", place=Phrase("Awake average"), day=2),
        value="138.2/84.0",
        earlier="140.0/85.5",
        date="2026-03-04",
        systolic=Phrase("{by} lower", by=Decimal("1.8")),
        diastolic=Phrase("the same"),
    )
    assert german.tell(said) == (
        "Mittelwert wach (Tag 2) 138,2/84,0 mmHg, in der Aufzeichnung vom 04.03.2026 140,0/85,5 mmHg: "
        "systolisch um 1,8 niedriger, diastolisch gleich."
    )
    assert "138,2/84,0 mmHg, contre 140,0/85,5 mmHg dans l’enregistrement du 04/03/2026" in french.tell(said)
    assert german.tell(Phrase("Historical recording, analysed on {date}.", date=date(2026, 3, 4))).endswith(
        "04.03.2026."
    )
    assert ENGLISH.tell(said) == said


def test_text_of_a_site_and_unknown_templates_stay() -> None:
    german = LANGUAGES["de"]
    assert german.tell("written by a site") == "written by a site"
    assert german.tell(joined("; ", [Phrase("a site's own grade"), Phrase("1 reading")])) == (
        "a site's own grade; 1 Messung"
    )


def test_a_wording_with_other_gaps_is_refused() -> None:
    content = b'id = "de"\n[sentences]\n"{count} readings" = "{zahl} Messungen"\n'
    with pytest.raises(MappingError, match="gaps in braces"):
        parse(content, Language, "de.toml")

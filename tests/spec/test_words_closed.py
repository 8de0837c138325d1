"""Every sentence that the analysis can form, read for what may never be said of a person."""

import re
from datetime import date
from itertools import product

import pytest

from gateway.analyse import words
from gateway.analyse.words import Because, Change, Origin, Pattern, Sentence, Why
from gateway.mapping.dipping import DIPPING
from gateway.mapping.studies import LOW_PRESSURE_STUDY
from gateway.model import PeriodName

FORBIDDEN = re.compile(
    r"hypertens|diagnosis|diagnosed|controlled|\bnormal|abnormal|patient|disease|suffer", re.IGNORECASE
)
SLOT = re.compile(r"\{(\w+)\}")

SHORT = {
    "place": [words.place(period, 1, 2, short) for period in PeriodName for short in (True, False)],
    "dip_class": [found.words for found in DIPPING],
    "pattern": list(Pattern),
    "deciding": list(words.MEANS.values()),
    "why": [why.format(guideline="ESC 2024", age=18, week=22) for why in Why],
    "study": [LOW_PRESSURE_STUDY],
    "component": ["Systolic", "Diastolic"],
    "clinic_side": ["at or above", "below"],
    "count": [words.readings(1), words.readings(31)],
    "date": [str(date(2026, 3, 1))],
}


def formed() -> list[str]:
    found = []
    for template in (*Sentence, *Origin, *Why, *Because, *Change):
        slots = sorted(set(SLOT.findall(template)))
        fillings = product(*(SHORT.get(slot, ["138.2/84.0"]) for slot in slots))
        found.extend(template.format(**dict(zip(slots, filling, strict=True))) for filling in fillings)
    return found


def test_no_sentence_says_what_a_person_has() -> None:
    sentences = formed()
    assert len(sentences) > 100
    assert [text for text in sentences if FORBIDDEN.search(text)] == []


def test_sentences_are_whole_and_calm() -> None:
    for text in formed():
        assert text == text.strip() and "  " not in text and "!" not in text
    whole = [template for template in Sentence if template is not Sentence.NOT_PROVEN]
    ends = (".", "{why}", "{reasons}")
    assert all(template.endswith(ends) for template in (*whole, *Origin, *Why, *Change))
    assert all(reason.startswith("not computable, because ") for reason in Because)


@pytest.mark.parametrize("sentence", [s for s in Sentence if "{value}" in s and "{limit}" in s])
def test_a_value_stands_beside_its_limit_and_source(sentence: Sentence) -> None:
    slots = SLOT.findall(sentence)
    assert "mmHg" in sentence
    assert {"guideline", "study"} & set(slots)

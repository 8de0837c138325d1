"""`guideline show` prints every number of every shipped file with its citation and standing."""

from collections.abc import Iterator

import pytest
from pydantic import BaseModel

from gateway.cli.published import guideline_lines
from gateway.mapping.guideline import Cited, Grade
from gateway.settings.maps import load

GUIDELINES = load(None).guidelines


def cited(value: object) -> Iterator[Cited]:
    if isinstance(value, Cited):
        yield value
    if isinstance(value, BaseModel):
        for name in type(value).model_fields:
            yield from cited(getattr(value, name))
    elif isinstance(value, tuple):
        for entry in value:
            yield from cited(entry)


@pytest.mark.parametrize("name", GUIDELINES)
def test_every_number_is_shown_with_its_standing(name: str) -> None:
    lines = list(guideline_lines(GUIDELINES[name]))
    numbers = list(cited(GUIDELINES[name]))
    assert len(numbers) >= 6
    marked = [line for line in lines if line.endswith("]") and not line.startswith("for: ")]
    assert [line.rpartition(" [")[2] for line in marked] == [
        f"{one.standing}: {one.citation}]" for one in in_order(numbers)
    ]
    for grade in (one for one in numbers if isinstance(one, Grade) and one.systolic is not None):
        assert any(f"at or above {grade.systolic}/{grade.diastolic}: {grade.words}" in line for line in lines)


def in_order(numbers: list[Cited]) -> list[Cited]:
    """As printed: weeks, clinic, limits, windows, adequacy, load."""
    kinds = ["Weeks", "ClinicLimit", "Grade", "FixedWindows", "AdequacyRule", "LoadLimit"]
    return sorted(numbers, key=lambda one: kinds.index(type(one).__name__))


def test_an_old_edition_a_part_of_pregnancy_and_a_missing_approval_are_said() -> None:
    assert "superseded by aha-acc-2025" in guideline_lines(GUIDELINES["acc-aha-2017"])
    lines = list(guideline_lines(GUIDELINES["isshp-2018-pregnancy"]))
    assert any(line.startswith("before week 22 of pregnancy [memory: ") for line in lines)
    assert "for: pregnancy, from 18 years [memory]" in lines
    assert lines[-1].startswith("needs local approval before production")
    assert not any("approval" in line for line in guideline_lines(GUIDELINES["esc-2024"]))

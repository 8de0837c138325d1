"""Whose limits apply: ages, contexts, and the site's other guidelines for whom its own is not meant."""

from dataclasses import replace
from datetime import date

import pytest

from gateway.analyse import fitting, summarise
from gateway.errors import MappingError
from gateway.mapping.guideline import Guideline
from gateway.mapping.parse import parse
from gateway.model import Circumstances, Recording, Summary
from tests.builders import a_person, a_recording
from tests.unit.validate.ruling import MAPPINGS, examined, guideline, rules

ADULTS = (MAPPINGS / "guidelines" / "esc-2024.toml").read_text(encoding="utf-8")
CHILD = (
    ADULTS.replace('id = "esc-2024"', 'id = "ours-child"')
    .replace('short = "ESC 2024"', 'short = "our limits"')
    .replace('context = "adult"', 'context = "child"\nhighest_age = 17')
    .replace("lowest_age = 18", "lowest_age = 13")
)
OURS = parse(CHILD.encode(), Guideline, "ours-child.toml")


def aged(years: int, **changes: object) -> Recording:
    """A person who turned so many years on the day of the recording, 3 March 2026."""
    return a_recording(person=a_person(birth_date=date(2026 - years, 3, 3)), **changes)


def result(recording: Recording, chosen: Guideline, *others: Guideline) -> Summary:
    fit = fitting(recording, rules(guideline=chosen, others=others))
    return summarise(recording, examined(recording, guideline=fit.guideline), fit)


@pytest.mark.parametrize(
    ("years", "why"),
    [(12, "from the age of 13 years on"), (13, ""), (17, ""), (18, "up to the age of 17 years only")],
)
def test_limits_for_children_hold_between_their_ages(years: int, why: str) -> None:
    ruled = result(aged(years), OURS).rules
    assert ruled.interpreted is not bool(why)
    assert why in ruled.why_not


def test_an_age_above_the_highest_is_a_caution() -> None:
    said = [one.sentence for one in examined(aged(18), guideline=OURS).findings if one.rule == "age-too-high"]
    assert said == ["Above the highest age of 17 years: no limits are applied."]
    assert not [one for one in examined(aged(17), guideline=OURS).findings if one.rule.startswith("age-")]


def test_a_child_under_a_guideline_for_adults_holds_values_only() -> None:
    found = result(aged(10), guideline("esc-2024"))
    assert not found.interpretations
    assert any(line.startswith("Values only: ") for line in found.conclusion)
    assert [
        line for line in found.conclusion if line.startswith("Awake average") and "without interpretation" in line
    ]


ESC, PREGNANCY = guideline("esc-2024"), guideline("isshp-2018-pregnancy")


@pytest.mark.parametrize(
    ("recording", "others", "used"),
    [
        (aged(40), (OURS, PREGNANCY), "esc-2024"),
        (aged(15), (OURS, PREGNANCY), "ours-child"),
        (aged(30, circumstances=Circumstances(pregnancy_weeks=12)), (OURS, PREGNANCY), "isshp-2018-pregnancy"),
        (aged(30, circumstances=Circumstances(pregnancy_weeks=30)), (OURS, PREGNANCY), "esc-2024"),
        (aged(9), (OURS,), "esc-2024"),
        (aged(15), (), "esc-2024"),
    ],
)
def test_the_first_guideline_that_fits_is_used(
    recording: Recording, others: tuple[Guideline, ...], used: str
) -> None:
    found = result(recording, ESC, *others)
    assert found.rules.guideline == used
    years = 2026 - (recording.person.birth_date or date(1900, 1, 1)).year
    late = (recording.circumstances.pregnancy_weeks or 0) >= 22
    assert found.rules.interpreted is (used != "esc-2024" or (years >= 18 and not late))


def test_a_raised_age_is_that_of_the_site_s_own_guideline() -> None:
    """The site raised 18 to 21: a person of 15 still has the limits of the other file, one of 19 has none."""
    raised = rules("esc-2024", lowest_age=21, others=(OURS,))
    assert fitting(aged(15), raised).guideline is OURS
    assert fitting(aged(15), raised).lowest_age is None
    assert fitting(aged(19), raised) is raised


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("highest_age = 17\n", "", "a guideline for children needs the last age"),
        ("highest_age = 17", "highest_age = 12", "highest_age: lies below lowest_age"),
        ("highest_age = 17", "highest_age = 121", "highest_age"),
    ],
)
def test_a_file_for_children_without_its_ages_is_refused(old: str, new: str, fault: str) -> None:
    with pytest.raises(MappingError, match=fault):
        parse(CHILD.replace(old, new, 1).encode(), Guideline, "ours-child.toml")


@pytest.mark.parametrize(
    ("today", "newer", "said"),
    [
        (date(2028, 11, 24), "", []),
        (
            date(2028, 11, 25),
            "",
            ["The limits of ESC 2024 were last compared with their sources on 2026-11-25; look for a newer edition."],
        ),
        (date(2026, 12, 1), "esc-2030", ["ESC 2024 is superseded by esc-2030."]),
    ],
)
def test_editions_age(today: date, newer: str, said: list[str]) -> None:
    assert ESC.checked_on == date(2026, 11, 25)
    edition = ESC.model_copy(update={"superseded_by": newer})
    assert list(edition.aged(today)) == said


def test_an_edition_that_aged_is_a_note_of_each_result() -> None:
    old = guideline("acc-aha-2017")
    said = [one for one in examined(a_recording(), "acc-aha-2017").findings if one.rule == "guideline-edition"]
    assert [(one.severity.value, one.sentence) for one in said] == [
        ("note", f"{old.short} is superseded by {old.superseded_by}.")
    ]
    assert not [one for one in examined(a_recording()).findings if one.rule == "guideline-edition"]


def test_rules_without_others_are_given_back_as_they_are() -> None:
    chosen = rules("esc-2024")
    assert fitting(aged(10), chosen) is chosen
    assert fitting(aged(40), replace(chosen, others=(OURS,))).guideline is chosen.guideline

"""Pregnancy: its own limits for a pregnant person, nobody else's limits for her, and hers for nobody else.

Limits: SOGC 2014 (awake 135/85, any setting 160/110; seen in a reprint that does not name the document) and ISSHP
2018 (before about 22 weeks 126/76, 132/79, 114/66; from memory, awake as in Brown 1998).
"""

import pytest

from gateway.analyse import summarise
from gateway.model import Circumstances, PeriodName, Recording, Subject, Summary
from tests.builders import a_person, a_recording, readings_over
from tests.unit.validate.ruling import examined, rules

AWAKE, ASLEEP, WHOLE = PeriodName.AWAKE, PeriodName.ASLEEP, PeriodName.WHOLE
ADULT = ["esc-2024", "esh-2023", "nice-ng136", "aha-acc-2025", "acc-aha-2017", "hypertension-canada-2020"]
PREGNANCY = ["sogc-2014-pregnancy", "isshp-2018-pregnancy"]


def recorded(weeks: int | None, awake: tuple[float, float] = (138, 86), asleep: float = 110) -> Recording:
    readings = readings_over(
        profile=lambda at: (asleep, 60, 60) if at.hour >= 23 or at.hour < 7 else (*awake, 74),
    )
    return a_recording(readings, circumstances=Circumstances(pregnancy_weeks=weeks))


def summary(recording: Recording, name: str) -> Summary:
    judged = examined(recording, name)
    assert judged.hold is None
    return summarise(recording, judged, rules(name))


def bare(found: Summary) -> bool:
    """Values only: no statement, no limit and no load of any guideline."""
    loads = [one for one in found.statistics if one.name.value.endswith("-load")]
    return not found.interpretations and all(one.value is None for one in loads)


@pytest.mark.parametrize("name", PREGNANCY)
def test_a_pregnant_person_is_held_against_the_limits_for_pregnancy(name: str) -> None:
    found = summary(recorded(20), name)
    assert (found.rules.interpreted, found.rules.why_not) == (True, "")
    said = found.interpretation(Subject.PRESSURE, AWAKE)
    assert said is not None and said.result == "at-or-above-limit"
    assert found.conclusion[1] == said.text


@pytest.mark.parametrize("name", PREGNANCY)
def test_nobody_else_is(name: str) -> None:
    found = summary(recorded(None), name)
    assert not found.rules.interpreted and bare(found)
    assert found.rules.why_not.endswith("are meant for pregnancy only.")
    assert f"Values only: {found.rules.why_not}" in found.conclusion


@pytest.mark.parametrize("name", ADULT)
@pytest.mark.parametrize("weeks", [0, 12, 40])
def test_limits_for_adults_are_not_used_in_pregnancy(name: str, weeks: int) -> None:
    found = summary(recorded(weeks), name)
    assert not found.rules.interpreted and bare(found)
    assert found.rules.why_not.endswith("are not meant for pregnancy.")


@pytest.mark.parametrize(("weeks", "held_against"), [(0, True), (21, True), (22, False), (39, False)])
def test_limits_of_the_first_half_are_not_used_in_the_second(weeks: int, held_against: bool) -> None:
    found = summary(recorded(weeks), "isshp-2018-pregnancy")
    assert found.rules.interpreted is held_against
    assert bare(found) is not held_against
    if not held_against:
        assert found.rules.why_not == "the limits of ISSHP 2018 are meant for pregnancy before week 22 only."


@pytest.mark.parametrize("weeks", [0, 21, 22, 41])
def test_sogc_holds_all_the_way(weeks: int) -> None:
    assert summary(recorded(weeks), "sogc-2014-pregnancy").rules.interpreted


@pytest.mark.parametrize(
    ("awake", "named"),
    [
        ((134.9, 84.9), "below-limit"),
        ((135, 70), "at-or-above-limit"),
        ((120, 85), "at-or-above-limit"),
        ((159.9, 109.9), "at-or-above-limit"),
        ((160, 90), "at-or-above-upper-limit"),
        ((140, 110), "at-or-above-upper-limit"),
    ],
)
def test_classes_of_sogc(awake: tuple[float, float], named: str) -> None:
    found = summary(recorded(30, awake), "sogc-2014-pregnancy")
    said = found.interpretation(Subject.PRESSURE, AWAKE)
    assert said is not None and said.result == named
    assert found.interpretation(Subject.PRESSURE, ASLEEP) is None  # no limit of its own is known
    assert found.interpretation(Subject.PRESSURE, WHOLE) is None


def test_the_site_s_age_limit_holds_in_pregnancy_too() -> None:
    young = a_recording(
        person=a_person(birth_date=recorded(20).began.date().replace(year=2009)),
        circumstances=Circumstances(pregnancy_weeks=20),
    )
    found = summary(young, "sogc-2014-pregnancy")
    assert not found.rules.interpreted and bare(found)


def test_low_pressures_of_a_study_in_treated_adults_are_not_used_in_pregnancy() -> None:
    """Divisón-Garrote 2016: awake below 105/65. That pressure is lower in pregnancy: common practice."""
    low = (100, 62)
    assert summary(recorded(20, low), "sogc-2014-pregnancy").interpretation(Subject.LOW_PRESSURE, AWAKE) is None
    found = summary(recorded(None, low), "esc-2024").interpretation(Subject.LOW_PRESSURE, AWAKE)
    assert found is not None

"""Every guideline file that is shipped, against a grid of means: what is said, and that it comes from the list."""

import re
from itertools import product
from pathlib import Path

import pytest

from gateway.analyse import summarise
from gateway.analyse.words import Sentence
from gateway.mapping.guideline import Guideline
from gateway.mapping.parse import parse
from gateway.model import Circumstances, PeriodName, Subject, Summary, Tenths
from tests.builders import a_recording, readings_over
from tests.unit.analyse.examined import examined_of, rules_with

FOLDER = Path(__file__).parents[2] / "mappings" / "guidelines"
FILES = sorted(FOLDER.glob("*.toml"))
FORBIDDEN = re.compile(r"hypertens|diagnosis|diagnosed|controlled|\bnormal|abnormal", re.IGNORECASE)


def guideline_of(path: Path) -> Guideline:
    return parse(path.read_bytes(), Guideline, path.name)


def summed(
    guideline: Guideline, awake: tuple[float, float], asleep: tuple[float, float], facts: Circumstances
) -> Summary:
    def profile(at: object) -> tuple[float, float, float]:
        return (*(asleep if at.hour >= 23 or at.hour < 7 else awake), 60)  # type: ignore[attr-defined]

    if guideline.context == "pregnancy":
        facts = Circumstances(**{**_fields(facts), "pregnancy_weeks": 20})
    recording = a_recording(readings_over(profile=profile), circumstances=facts)
    return summarise(recording, examined_of(recording), rules_with(guideline))


def _fields(facts: Circumstances) -> dict[str, object]:
    return {name: getattr(facts, name) for name in Circumstances.__slots__}


def test_there_are_guidelines() -> None:
    assert len(FILES) >= 3


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_all_that_is_said_comes_from_the_list_and_names_nobody_ill(path: Path) -> None:
    guideline = guideline_of(path)
    closed = [re.compile(".+".join(map(re.escape, re.split(r"\{\w+\}", text)))) for text in Sentence]
    grid = [(100, 62), (118, 72), (132, 82), (139, 88), (152, 97), (182, 122)]
    for awake, asleep, (treated, clinic) in product(
        grid, grid, ((True, 160), (False, 130), (None, None), (False, 160))
    ):
        facts = Circumstances(
            treated=treated,
            clinic_systolic=None if clinic is None else Tenths(clinic * 10),
            clinic_diastolic=None if clinic is None else Tenths(clinic * 6),
        )
        found = summed(guideline, awake, asleep, facts)
        said = [*found.conclusion, *(one.text for one in found.interpretations)]
        for text in said:
            assert not FORBIDDEN.search(text.replace(guideline.title, "")), text
            listed = any(template.fullmatch(text) for template in closed)
            assert listed or text == guideline.treatment_note, text


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_each_limit_is_reached_at_its_own_value_and_not_a_tenth_below(path: Path) -> None:
    guideline = guideline_of(path)
    for limits in guideline.limits:
        for grade in limits.grades[1:]:
            assert grade.systolic is not None
            low = 40.0
            for systolic, reached in ((float(grade.systolic), True), (float(grade.systolic) - 0.1, False)):
                found = summed(guideline, (systolic, low), (systolic, low), Circumstances())
                said = found.interpretation(Subject.SYSTOLIC, limits.period)
                assert said is not None and (said.result == grade.id) is reached, (limits.period, grade.id)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_periods_without_limits_get_values_only(path: Path) -> None:
    guideline = guideline_of(path)
    found = summed(guideline, (150, 95), (130, 80), Circumstances())
    for period in PeriodName:
        assert (found.interpretation(Subject.PRESSURE, period) is None) == (guideline.of(period) is None)

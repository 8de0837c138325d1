"""The site's own alert rules: what they take, what they say, where they stand."""

import re
from decimal import Decimal

import pytest
from pydantic import ValidationError

from gateway.analyse import summarise
from gateway.mapping.alerts import OF_THE_DAY, AlertRule
from gateway.model import Circumstances, Examined, PeriodName, Review, StatisticName, Summary
from tests.builders import a_person, a_reading, a_recording, readings_over
from tests.spec.test_words_closed import FORBIDDEN
from tests.unit.analyse.examined import examined_of, rules_with

WHOLE, AWAKE, ASLEEP = PeriodName.WHOLE, PeriodName.AWAKE, PeriodName.ASLEEP


def rule(**parts: object) -> AlertRule:
    return AlertRule(**{"name": "our limit", **parts})  # type: ignore[arg-type]


def summed(*rules: AlertRule, days: int = 1, review: Review | None = None, **changes: object) -> Summary:
    """138/86 and 74 a minute awake, 118/70 and 58 asleep, with a ripple of 4 mmHg."""
    recording = a_recording(readings_over(hours=24 * days), **changes)
    examined: Examined = examined_of(recording, days, review=review or Review())
    return summarise(recording, examined, rules_with(alerts=rules))


def said(*rules: AlertRule, **more: object) -> list[str]:
    found = summed(*rules, **more)  # type: ignore[arg-type]
    told = [one.sentence for one in found.findings if one.rule == "local-alert"]
    assert [line for line in found.conclusion if "Your local rule" in line] == told, "each once, in the same words"
    return told


MEAN = {"statistic": StatisticName.SYSTOLIC_MEAN, "period": AWAKE}


def test_a_mean_at_its_limit_is_said_with_its_value() -> None:
    value = summed().statistic(StatisticName.SYSTOLIC_MEAN, AWAKE)
    assert value is not None
    assert value.value is not None
    at, over = rule(**MEAN, at_or_above=value.value), rule(**MEAN, at_or_above=value.value + Decimal("0.1"))
    told = f"Your local rule (our limit): awake systolic mean {value.value} mmHg"
    assert said(at, over) == [f"{told}, at or above 138."]
    under, same = rule(**MEAN, below=value.value + Decimal("0.1")), rule(**MEAN, below=value.value)
    assert said(under, same) == [f"{told}, below 138.1."]


def test_a_heart_rate_and_a_dip_keep_their_units() -> None:
    rate = rule(statistic=StatisticName.HEART_RATE_MEAN, period=ASLEEP, at_or_above=58)
    dip = rule(name="deep fall", statistic=StatisticName.SYSTOLIC_DIP, at_or_above=10)
    first, second = said(rate, dip)
    assert first == "Your local rule (our limit): asleep heart rate mean 58.0 per minute, at or above 58."
    assert re.fullmatch(r"Your local rule \(deep fall\): systolic dip 1\d\.\d %, at or above 10\.", second)


@pytest.mark.parametrize(("readings", "expected"), [(8, 1), (9, 0)])
def test_so_many_readings(readings: int, expected: int) -> None:
    """Eight readings asleep, at 58 a minute."""
    found = said(rule(reading="heart-rate", period=ASLEEP, below=59, readings=readings))
    assert len(found) == expected
    if found:
        assert found == ["Your local rule (our limit): 8 valid readings, asleep heart rate below 59 per minute."]


def test_one_reading_at_the_limit_is_enough_and_a_failed_one_is_none() -> None:
    readings = [*readings_over()[1:], a_reading(readings_over()[0].at, 171, 101)]
    assert (
        said(
            rule(reading="systolic", period=WHOLE, at_or_above=171),
            rule(reading="systolic", period=WHOLE, at_or_above=Decimal("171.1")),
            rule(reading="diastolic", period=AWAKE, at_or_above=101),
            rule(reading="diastolic", period=ASLEEP, at_or_above=101),
        )
        == []
    )
    recording = a_recording(readings)
    rules = (
        rule(reading="systolic", period=WHOLE, at_or_above=171),
        rule(reading="diastolic", period=AWAKE, at_or_above=101),
        rule(reading="diastolic", period=ASLEEP, at_or_above=101),
    )
    found = summarise(recording, examined_of(recording), rules_with(alerts=rules))
    assert [one.sentence for one in found.findings if one.rule == "local-alert"] == [
        "Your local rule (our limit): 1 valid reading, 24-hour systolic at or above 171 mmHg.",
        "Your local rule (our limit): 1 valid reading, awake diastolic at or above 101 mmHg.",
    ]


def test_they_stand_after_the_review_message_and_before_all_else() -> None:
    review = Review(rule="site", rows=(10,), sentence="Values above your local review limit (site): 1 reading.")
    lines = summed(rule(**MEAN, at_or_above=100), review=review).conclusion
    assert lines[0] == review.sentence
    assert lines[1].startswith("Your local rule (our limit): awake systolic mean")


def test_two_days_are_named() -> None:
    found = summed(rule(**MEAN, at_or_above=100), days=2)
    told = [one.sentence for one in found.findings if one.rule == "local-alert"]
    assert [line[:25] for line in told] == ["Day 1: Your local rule (o", "Day 2: Your local rule (o"]


@pytest.mark.parametrize(
    "changes",
    [
        {"person": a_person(birth_date=None)},
        {"person": a_person(birth_date=a_person().birth_date.replace(year=2015))},
        {"circumstances": Circumstances(pregnancy_weeks=20)},
    ],
)
def test_where_no_limits_apply_only_rules_for_everyone_speak(changes: dict[str, object]) -> None:
    adults, everyone = rule(**MEAN, at_or_above=100), rule(**MEAN, at_or_above=100, everyone=True)
    assert said(adults, **changes) == []
    assert len(said(everyone, **changes)) == 1


@pytest.mark.parametrize(
    ("parts", "fault"),
    [
        ({"at_or_above": 1}, "name one of statistic"),
        ({**MEAN, "reading": "systolic", "at_or_above": 1}, "name one of statistic"),
        (MEAN, "write one of at_or_above and below"),
        ({**MEAN, "at_or_above": 1, "below": 2}, "write one of at_or_above and below"),
        ({"statistic": StatisticName.SYSTOLIC_MEAN, "at_or_above": 1}, "a statistic of the whole day has none"),
        (
            {"statistic": StatisticName.AASI, "period": AWAKE, "at_or_above": 1},
            "a statistic of the whole day has none",
        ),
        ({"reading": "systolic", "at_or_above": 1}, "period: write"),
        ({**MEAN, "at_or_above": 1, "readings": 2}, "belongs to a rule on readings"),
        ({**MEAN, "at_or_above": 1, "name": "stage 1 hypertension"}, "not what a person has"),
        ({**MEAN, "at_or_above": 1, "name": "x"}, "at least 3 characters"),
        ({**MEAN, "at_or_above": 1, "colour": "red"}, "colour"),
    ],
)
def test_a_rule_that_says_nothing_clear_is_refused(parts: dict[str, object], fault: str) -> None:
    with pytest.raises(ValidationError, match=fault):
        rule(**parts)


@pytest.mark.parametrize("word", ["Hypertension", "diagnosed", "uncontrolled", "abnormal", "Patient", "disease"])
def test_no_name_says_what_no_sentence_may(word: str) -> None:
    assert FORBIDDEN.search(word)
    with pytest.raises(ValidationError):
        rule(**MEAN, at_or_above=1, name=f"our {word}")


def test_statistics_of_the_day_are_those_that_are_stated_without_a_period() -> None:
    stated = {one.name: one.period for one in summed().statistics}
    assert {name for name, period in stated.items() if period is None} == OF_THE_DAY

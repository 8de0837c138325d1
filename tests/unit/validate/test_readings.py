"""Single readings: what each may be used for; units; spread; the local review rule."""

from datetime import timedelta
from decimal import Decimal

import pytest

from gateway.mapping.guideline import Standing
from gateway.mapping.limits import Spread
from gateway.mapping.rules import ReviewRule
from gateway.model import Diary, HoldReason, Judged, Kind, Outcome, Reading, Recording, Use
from tests.builders import START, a_reading, a_recording, readings_over
from tests.unit.validate.ruling import examined, found, reading_limits


def judged(reading: Reading, limits: str = "widest") -> Judged:
    result = examined(a_recording([reading], diary=Diary()), limits=reading_limits(limits))
    return result.judged[0]


# Limits `widest`: systolic 50 to 260, diastolic 30 to 150, heart rate 20 to 200, both ends included; from memory
@pytest.mark.parametrize(
    ("systolic", "diastolic", "rule"),
    [
        (130, 80, None),
        (50, 30, None),
        (260, 150, None),
        (49.9, 30, "systolic-limits"),
        (260.1, 150, "systolic-limits"),
        (130, 29.9, "diastolic-limits"),
        (160, 150.1, "diastolic-limits"),
        (80, 80, "systolic-not-above-diastolic"),
        (80, 81, "systolic-not-above-diastolic"),
        (80.1, 80, None),
        (130, None, "pressure-missing"),
        (None, 80, "pressure-missing"),
    ],
)
def test_pressures(systolic: float | None, diastolic: float | None, rule: str | None) -> None:
    verdict = judged(a_reading(systolic=systolic, diastolic=diastolic))
    assert verdict.rule == rule
    assert verdict.use is (Use.EXCLUDED if rule else Use.VALID)
    assert bool(verdict.why) is bool(rule)


@pytest.mark.parametrize(
    ("rate", "excluded"), [(None, False), (20, False), (200, False), (19.9, True), (200.1, True), (70, False)]
)
def test_a_heart_rate_limit_excludes_only_the_heart_rate(rate: float | None, excluded: bool) -> None:
    verdict = judged(a_reading(heart_rate=rate))
    assert verdict.use is Use.VALID
    assert (verdict.heart_rate_excluded == "heart-rate-limits") is excluded


def test_without_limits_only_order_and_presence_count() -> None:
    assert judged(a_reading(systolic=300, diastolic=10), "none").use is Use.VALID
    assert judged(a_reading(systolic=80, diastolic=90), "none").use is Use.EXCLUDED


def test_a_failed_attempt_keeps_its_mark() -> None:
    verdict = judged(a_reading(outcome=Outcome.FAILED, failure="cuff-error"))
    assert (verdict.use, verdict.rule) == (Use.FAILED, "no-pressure")
    assert verdict.why == "no pressure was measured: cuff-error"


@pytest.mark.parametrize("kind", [Kind.FITTING, Kind.MANUAL])
def test_fitting_and_manual_readings_are_listed_and_count_nowhere(kind: Kind) -> None:
    assert judged(a_reading(kind=kind)).use is Use.LISTED
    assert judged(a_reading(systolic=300, kind=kind)).use is Use.EXCLUDED
    extra = a_reading(START - timedelta(minutes=10), 200, 120, kind=kind, row=1)
    plain, more = examined(a_recording()), examined(a_recording([extra, *readings_over()]))
    assert plain.adequacy is not None
    assert more.adequacy is not None
    assert more.adequacy.counts == plain.adequacy.counts
    assert more.windows == plain.windows


def test_exclusions_are_told_with_their_rows() -> None:
    readings = list(readings_over())
    readings[3] = a_reading(readings[3].at, 300, 80, row=readings[3].row)
    readings[5] = a_reading(readings[5].at, 301, 80, row=readings[5].row)
    said = next(f for f in examined(a_recording(readings)).findings if f.rule == "systolic-limits")
    assert said.rows == (readings[3].row, readings[5].row)
    assert said.sentence == "2 readings kept out: systolic outside 50 to 260."


def series(*pairs: tuple[float | None, float | None]) -> Recording:
    times = [START + timedelta(minutes=20 * n) for n in range(len(pairs))]
    readings = [a_reading(at, *pair, row=n) for n, (at, pair) in enumerate(zip(times, pairs, strict=True))]
    return a_recording(readings, diary=Diary())


# 1 kPa = 7.50062 mmHg: 17/10 are 128/75 mmHg in kPa and must never pass as mmHg
@pytest.mark.parametrize(
    ("pairs", "doubtful"),
    [
        ([(17, 10)] * 5, True),
        ([(17.5, 10.9)] * 3 + [(131, 80)] * 2, True),
        ([(17, 10)] * 2 + [(131, 80)] * 3, False),
        ([(975, 600)] * 5, True),
        ([(None, 10)] * 5, True),
        ([(39.9, 20)] * 5, True),
        ([(40, 20)] * 5, False),
        ([(131, 82)] * 5, False),
    ],
)
def test_pressures_that_cannot_be_mmhg(pairs: list[tuple[float | None, float | None]], doubtful: bool) -> None:
    result = examined(series(*pairs), waived=["units-doubtful"])
    assert ("units-doubtful" in found(result)) is doubtful
    if doubtful:
        assert result.hold is not None
        assert (result.hold.reason, result.hold.rule) == (HoldReason.UNITS_DOUBTFUL, "")


def test_nothing_valid_holds() -> None:
    failed = a_recording([a_reading(r.at, outcome=Outcome.FAILED, row=r.row) for r in readings_over()])
    result = examined(failed, waived=["nothing-valid"])
    assert result.hold is not None
    assert (result.hold.reason, result.hold.rule) == (HoldReason.NOTHING_VALID, "")
    assert {verdict.use for verdict in result.judged} == {Use.FAILED}


def beyond(deviations: str) -> Spread:
    return Spread(deviations=Decimal(deviations), citation="for this test", standing=Standing.MEMORY)


def test_spread_by_standard_deviations_per_period() -> None:
    """Nine readings of 130 and one of 160: mean 133, SD 9.4868 (n-1), (160 - 133) / SD = 2.846."""
    pairs: list[tuple[float | None, float | None]] = [(130, 80)] * 9 + [(160, 80)]
    for factor, out in (("2.84", 1), ("2.85", 0)):
        limits = reading_limits("none").model_copy(update={"spread": beyond(factor)})
        result = examined(series(*pairs), limits=limits)
        assert [v.use for v in result.judged].count(Use.EXCLUDED) == out
        assert ("spread" in found(result)) is bool(out)


def test_spread_needs_three_readings_and_some_spread() -> None:
    limits = reading_limits("none").model_copy(update={"spread": beyond("0.5")})
    assert {v.use for v in examined(series((130, 80), (180, 90)), limits=limits).judged} == {Use.VALID}
    assert {v.use for v in examined(series(*[(130, 80)] * 5), limits=limits).judged} == {Use.VALID}


REVIEW = ReviewRule(name="example rule", systolic_at_or_above=Decimal(180), diastolic_at_or_above=Decimal(110))


@pytest.mark.parametrize(
    ("systolic", "diastolic", "met"),
    [(180, 90, True), (179.9, 109.9, False), (150, 110, True), (300, 90, True), (90, 110, True), (None, 112, True)],
)
def test_review_rule_is_inclusive_and_before_every_exclusion(
    systolic: float | None, diastolic: float | None, met: bool
) -> None:
    review = examined(series((systolic, diastolic), (130, 80)), review=REVIEW).review
    assert review.met is met
    assert review.rows == ((0,) if met else ())


def test_review_rule_looks_at_held_recordings_and_fitting_readings() -> None:
    reading = a_reading(START.replace(year=9999), 190, 100, kind=Kind.FITTING, row=7)
    result = examined(a_recording([reading]), review=REVIEW)
    assert result.hold is not None
    assert result.review.rows == (7,)
    assert result.review.sentence == "Values above your local review limit (example rule): 1 reading."


def test_review_rule_may_ask_for_several_readings_and_for_low_ones() -> None:
    low = ReviewRule(name="low", systolic_below=Decimal(90), readings=2)
    assert not examined(series((89, 60), (90, 60), (100, 60)), review=low).review.met
    review = examined(series((89, 60), (100, 60), (80, 50)), review=low).review
    assert (review.rows, review.rule) == ((0, 2), "low")
    assert review.sentence == "Values below your local review limit (low): 2 readings."


def test_no_review_rule() -> None:
    assert examined(series((300, 150)), review=None).review.rule == ""

"""The shipped sets of limits for single readings: numbers, standing, and that every exclusion is shown with its rule.

No set but `spread` was seen at a source; the ranges are common practice, from memory.
"""

from decimal import Decimal
from statistics import fmean, stdev

import pytest

from gateway.mapping.guideline import Standing
from gateway.mapping.limits import Range
from gateway.model import Diary, Examined, PeriodName, Use
from gateway.settings.maps import load
from tests.builders import a_reading, a_recording, readings_over
from tests.unit.validate.ruling import examined, found, reading_limits

PARTS = ("systolic", "diastolic", "heart_rate", "pulse_pressure")
SETS = {
    "none": {},
    "widest": {"systolic": (50, 260), "diastolic": (30, 150), "heart_rate": (20, 200)},
    "usual-adult": {"systolic": (70, 260), "diastolic": (40, 150), "heart_rate": (20, 200)},
    "paediatric": {
        "systolic": (60, 220),
        "diastolic": (35, 120),
        "heart_rate": (40, 180),
        "pulse_pressure": (40, 120),
    },
    "spread": {},
}


def test_what_is_shipped() -> None:
    assert set(load(None).limits) == set(SETS)


@pytest.mark.parametrize("name", SETS)
def test_ranges_and_that_they_are_from_memory(name: str) -> None:
    ranges: dict[str, Range] = {part: one for part in PARTS if (one := getattr(reading_limits(name), part))}
    assert {part: (one.low, one.high) for part, one in ranges.items()} == SETS[name]
    assert {one.standing for one in ranges.values()} <= {Standing.MEMORY}


def test_spread_is_two_standard_deviations_as_seen() -> None:
    """1.75 to 2 SD from the mean, awake and asleep apart: J Hum Hypertens pp 195-198 (phc.ox.ac.uk 1150694)."""
    spread = reading_limits("spread").spread
    assert spread is not None
    assert (spread.deviations, spread.standing) == (Decimal(2), Standing.VERIFIED)
    assert [name for name in SETS if reading_limits(name).spread] == ["spread"]


def one(name: str, systolic: float, diastolic: float, heart_rate: float = 70) -> Examined:
    reading = a_reading(systolic=systolic, diastolic=diastolic, heart_rate=heart_rate, row=7)
    good = [a_reading(r.at, row=r.row) for r in readings_over()[1:]]
    return examined(a_recording([reading, *good], diary=Diary()), limits=reading_limits(name))


@pytest.mark.parametrize(
    ("name", "pressures", "rule"),
    [
        ("none", (300, 20), None),
        ("widest", (50, 30), None),
        ("widest", (49.9, 30), "systolic-limits"),
        ("usual-adult", (70, 40), None),
        ("usual-adult", (69.9, 40), "systolic-limits"),
        ("usual-adult", (260, 150), None),
        ("usual-adult", (260.1, 150), "systolic-limits"),
        ("usual-adult", (120, 39.9), "diastolic-limits"),
        ("usual-adult", (160, 150.1), "diastolic-limits"),
        ("paediatric", (220, 120), None),
        ("paediatric", (220.1, 120), "systolic-limits"),
        ("paediatric", (75, 35), None),
        ("paediatric", (74.9, 35), "pulse-pressure-limits"),
        ("paediatric", (59.9, 35), "systolic-limits"),
        ("paediatric", (120, 34.9), "diastolic-limits"),
        ("paediatric", (180, 60), None),
        ("paediatric", (180.1, 60), "pulse-pressure-limits"),
    ],
)
def test_each_exclusion_is_shown_with_its_rule(name: str, pressures: tuple[float, float], rule: str | None) -> None:
    result = one(name, *pressures)
    verdict = result.judged[0]
    assert verdict.rule == rule
    assert verdict.use is (Use.EXCLUDED if rule else Use.VALID)
    if rule:
        said = next(finding for finding in result.findings if finding.rule == rule)
        assert said.rows == (7,)
        assert verdict.why is not None and verdict.why in said.sentence


@pytest.mark.parametrize(
    ("name", "rate", "kept"),
    [
        ("usual-adult", 20, True),
        ("usual-adult", 200.1, False),
        ("paediatric", 40, True),
        ("paediatric", 180.1, False),
    ],
)
def test_a_heart_rate_outside_keeps_out_the_heart_rate_only(name: str, rate: float, kept: bool) -> None:
    result = one(name, 130, 80, rate)
    assert result.judged[0].use is Use.VALID
    assert result.judged[0].heart_rate_excluded == (None if kept else "heart-rate-limits")
    assert ("heart-rate-limits" in found(result)) is not kept


def test_spread_judges_awake_and_asleep_apart() -> None:
    """118 by night is far below the whole day's mean and stays; 170 by day is not. Checked against `statistics`."""

    def with_one_high(at: object) -> tuple[float, float, float]:
        night = at.hour >= 23 or at.hour < 7  # type: ignore[attr-defined]
        high = (at.hour, at.minute) == (15, 0)  # type: ignore[attr-defined]
        ripple = at.hour % 5  # type: ignore[attr-defined]
        return (118 + ripple, 70 + ripple, 58) if night else (170 if high else 138 + ripple, 86 + ripple, 74)

    recording = a_recording(readings_over(profile=with_one_high))
    result = examined(recording, limits=reading_limits("spread"))
    assert result.windows is not None
    for period in (p for p in result.windows.periods if p.name is not PeriodName.WHOLE):
        inside = [v for v in result.judged if period.counts(v.reading.at)]
        far = set()
        for part in ("systolic", "diastolic"):
            values = [getattr(v.reading, part) / 10 for v in inside]
            mean, sd = fmean(values), stdev(values)
            far |= {v.reading.row for v, value in zip(inside, values, strict=True) if abs(value - mean) > 2 * sd}
        assert {v.reading.row for v in inside if v.use is Use.EXCLUDED} == far
        assert bool(far) is (period.name is PeriodName.AWAKE)
    out = [v for v in result.judged if v.use is Use.EXCLUDED]
    assert [(v.reading.systolic, v.rule) for v in out] == [(1700, "spread")]
    assert out[0].why == "more than 2 standard deviations from the mean of its period"
    said = next(finding for finding in result.findings if finding.rule == "spread")
    assert said.rows == (out[0].reading.row,)

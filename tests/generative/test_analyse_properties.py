"""What must hold for every recording, tried on generated ones."""

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st

from gateway.analyse import summarise
from gateway.analyse.words import Sentence
from gateway.model import (
    Circumstances,
    Diary,
    Interval,
    Kind,
    Outcome,
    PeriodName,
    Reading,
    Recording,
    Statistic,
    StatisticName,
    Summary,
    Tenths,
    Unit,
)
from tests.builders import LONDON, a_recording
from tests.unit.analyse.examined import after, examined_of, rules_with

tried = settings(deadline=None, max_examples=60)

Rows = list[tuple[int, int, int, int]]
RULES = rules_with()


@st.composite
def rows(draw: st.DrawFn, least: int = 4) -> Rows:
    """Minutes since the start, systolic, diastolic, heart rate in tenths."""
    minutes = draw(st.lists(st.integers(0, 24 * 60 - 1), min_size=least, max_size=80, unique=True))
    seed = Random(draw(st.integers(0, 10**6)))
    return [
        (minute, upper := seed.randint(900, 2000), upper - seed.randint(200, 500), seed.randint(450, 1200))
        for minute in sorted(minutes)
    ]


def recorded(table: Rows, start: datetime = datetime(2026, 3, 3, 9, 0, tzinfo=LONDON)) -> Recording:
    readings = [
        Reading(
            row=number + 1,
            at=after(start, timedelta(minutes=minute)),
            outcome=Outcome.MEASURED,
            systolic=Tenths(upper),
            diastolic=Tenths(lower),
            heart_rate=Tenths(rate),
        )
        for number, (minute, upper, lower, rate) in enumerate(table)
    ]
    sleep = Interval(after(start, timedelta(hours=14)), after(start, timedelta(hours=22)))
    return a_recording(readings, diary=Diary(asleep=(sleep,)))


def summed(recording: Recording) -> Summary:
    return summarise(recording, examined_of(recording), RULES)


def values(summary: Summary, leave: tuple[str, ...] = ()) -> dict[tuple[StatisticName, PeriodName | None], Statistic]:
    return {(s.name, s.period): s for s in summary.statistics if not any(word in s.name for word in leave)}


@tried
@given(rows(), st.randoms())
def test_the_order_of_rows_does_not_matter(table: Rows, random: Random) -> None:
    recording = recorded(table)
    shuffled = list(recording.readings)
    random.shuffle(shuffled)
    found, other = summed(recording), summed(replace(recording, readings=tuple(shuffled)))
    assert found.statistics == other.statistics
    assert found.conclusion == other.conclusion


@tried
@given(rows(), st.integers(0, 24 * 60 - 1))
def test_a_failed_reading_changes_no_number(table: Rows, minute: int) -> None:
    recording = recorded(table)
    start = recording.began
    failed = Reading(
        row=900, at=after(start, timedelta(minutes=minute)), outcome=Outcome.FAILED, failure="E4", kind=Kind.REPEAT
    )
    more = replace(recording, readings=(*recording.readings, failed))
    assert summed(recording).statistics == summed(more).statistics


SHIFTED = {
    "mean",
    "maximum",
    "minimum",
    "mean-hourly",
    "mean-pressure-derived",
    "mesor",
}


@tried
@given(rows(), st.integers(1, 300))
def test_shifting_all_pressures_shifts_means_and_leaves_variability(table: Rows, shift: int) -> None:
    moved = [(minute, upper + 10 * shift, lower + 10 * shift, rate) for minute, upper, lower, rate in table]
    before = values(summed(recorded(table)), ("load", "dip", "cv", "double-product", "heart-rate"))
    later = values(summed(recorded(moved)), ("load", "dip", "cv", "double-product", "heart-rate"))
    for key, old in before.items():
        new = later[key]
        assert (old.value is None) == (new.value is None), key
        if old.value is None or new.value is None:
            continue
        moves = key[0].split("-", 1)[-1] in SHIFTED and key[0] != StatisticName.PULSE_PRESSURE_MEAN
        moves = moves or key[0] is StatisticName.MEAN_PRESSURE_DERIVED or key[0].startswith("first-hour")
        slack = Decimal("0.1") if _computed(key[0]) else Decimal(0)
        assert abs(new.value - old.value - (shift if moves else 0)) <= slack, key


def _computed(name: StatisticName) -> bool:
    """Floating point may round the other way at a half; exact numbers may not."""
    return any(word in name for word in ("mesor", "amplitude", "peak", "rhythm", "weighted", "symmetric"))


@tried
@given(rows(), st.integers(2, 5))
def test_scaling_scales_means_and_spread_and_leaves_shares(table: Rows, factor: int) -> None:
    """In tenths: the sums of a recording `factor` times as high are `factor` times as high, so CV stays."""
    low = [(minute, upper // 5, lower // 5, rate) for minute, upper, lower, rate in table]
    high = [(minute, factor * upper, factor * lower, rate) for minute, upper, lower, rate in low]
    before, later = values(summed(recorded(low))), values(summed(recorded(high)))
    for period in PeriodName:
        for name in (StatisticName.SYSTOLIC_CV, StatisticName.DIASTOLIC_CV):
            if (name, period) in before:
                assert before[name, period].value == later[name, period].value
        for name in (StatisticName.SYSTOLIC_MAXIMUM, StatisticName.DIASTOLIC_MINIMUM):
            if (name, period) in before and before[name, period].value is not None:
                assert later[name, period].value == factor * (before[name, period].value or 0)
    for name in (StatisticName.SYSTOLIC_SD, StatisticName.SYSTOLIC_MEAN, StatisticName.SYSTOLIC_ARV):
        old, new = before[name, PeriodName.WHOLE].value, later[name, PeriodName.WHOLE].value
        if old is not None and new is not None:
            assert abs(new - factor * old) <= Decimal("0.05") * (factor + 1)


@tried
@given(rows(), st.integers(0, 23))
def test_midnight_is_nothing_special(table: Rows, hour: int) -> None:
    """Begun at any hour in UTC, so that midnight falls anywhere, every number but the time of the peak stays."""
    first = summed(recorded(table, datetime(2026, 3, 3, 0, 0, tzinfo=UTC)))
    other = summed(recorded(table, datetime(2026, 3, 3, hour, 0, tzinfo=UTC)))
    old, new = (
        values(first, ("peak", "rhythm", "mesor", "amplitude")),
        values(other, ("peak", "rhythm", "mesor", "amplitude")),
    )
    assert old == new


@tried
@given(rows(), st.sampled_from([datetime(2026, 3, 28, 9, tzinfo=LONDON), datetime(2026, 10, 24, 9, tzinfo=LONDON)]))
def test_a_clock_change_changes_nothing(table: Rows, start: datetime) -> None:
    """Days of 23 and 25 hours on the clock: real time counts (Europe/London, last Sundays of March and October)."""
    plain = values(summed(recorded(table, datetime(2026, 3, 3, 9, 0, tzinfo=LONDON))))
    changed = values(summed(recorded(table, start)))
    assert plain == changed


@tried
@given(rows(least=1), st.integers(0, 79))
def test_a_recording_cut_anywhere_gives_a_summary(table: Rows, cut: int) -> None:
    recording = recorded(table)
    kept = recording.readings[: cut % len(recording.readings) + 1]
    found = summed(replace(recording, readings=kept))
    for one in found.statistics:
        assert (one.value is None) != (one.reason is None)
        if one.value is not None and one.unit is Unit.MMHG:
            assert one.value.as_tuple().exponent == -1
        assert one.reason is None or one.reason.startswith("not computable, because ")


def pattern(template: str) -> re.Pattern[str]:
    parts = re.split(r"\{\w+\}", template)
    return re.compile(".+".join(re.escape(piece) for piece in parts), re.DOTALL)


CLOSED = [pattern(template) for template in Sentence]


@tried
@given(
    rows(),
    st.sampled_from([True, False, None]),
    st.none() | st.integers(100, 200),
    st.booleans(),
)
def test_every_sentence_comes_from_the_closed_list(
    table: Rows, treated: bool | None, clinic: int | None, irregular: bool
) -> None:
    facts = Circumstances(
        treated=treated,
        irregular_pulse=irregular,
        clinic_systolic=None if clinic is None else Tenths(10 * clinic),
        clinic_diastolic=None if clinic is None else Tenths(5 * clinic),
    )
    found = summed(replace(recorded(table), circumstances=facts))
    for text in (*found.conclusion, *(one.text for one in found.interpretations)):
        assert any(template.fullmatch(text) for template in CLOSED), text


@tried
@given(rows())
def test_a_statement_on_a_pair_agrees_with_its_components(table: Rows) -> None:
    """The pair's class is the higher one of its components' classes."""
    order = ["non-elevated", "elevated", "at-or-above-limit"]
    found = summed(recorded(table))
    by_place: dict[PeriodName | None, dict[str, int]] = {}
    for one in found.interpretations:
        if one.subject in ("pressure", "systolic", "diastolic"):
            by_place.setdefault(one.period, {})[one.subject] = order.index(one.result)
    for ranks in by_place.values():
        assert ranks["pressure"] == max(ranks["systolic"], ranks["diastolic"])

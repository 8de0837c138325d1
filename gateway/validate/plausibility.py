"""What each reading may be used for. A reading is never changed and never dropped; it is kept with a named reason."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal

from gateway.mapping.limits import Range, ReadingLimits
from gateway.model import HoldReason, Judged, Kind, Outcome, Reading, Tenths, Use
from gateway.model.phrase import Phrase
from gateway.validate.case import Case, Doubt, Remark, note

_LISTED = {
    Kind.FITTING: ("fitting", Phrase("taken while the monitor was fitted: listed, not counted")),
    Kind.MANUAL: ("manual", Phrase("started by hand: listed, not counted")),
}
_MISSING = {
    (False, False): "",
    (True, False): "no systolic pressure",
    (False, True): "no diastolic pressure",
    (True, True): "no systolic and no diastolic pressure",
}
_OUTSIDE = {
    "systolic": "systolic outside {low} to {high}",
    "diastolic": "diastolic outside {low} to {high}",
    "pulse-pressure": "pulse pressure outside {low} to {high}",
}


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a reading is kept out."""

    rule: str
    why: Phrase


Check = Callable[[Reading, ReadingLimits], Reason | None]


def judge(reading: Reading, limits: ReadingLimits) -> Judged:
    """The verdict on one reading by itself."""
    if reading.outcome is Outcome.FAILED:
        failed = Phrase("no pressure was measured")
        if reading.failure:
            failed = Phrase("{why}: {failure}", why=failed, failure=reading.failure)
        return Judged(reading=reading, use=Use.FAILED, rule="no-pressure", why=failed)
    rate = _beyond(reading.heart_rate, limits.heart_rate)
    kept_out = next((reason for check in CHECKS if (reason := check(reading, limits)) is not None), None)
    use, rule, why = Use.VALID, None, None
    if kept_out is not None:
        use, rule, why = Use.EXCLUDED, kept_out.rule, kept_out.why
    elif reading.kind in _LISTED:
        use, (rule, why) = Use.LISTED, _LISTED[reading.kind]
    return Judged(
        reading=reading, use=use, rule=rule, why=why, heart_rate_excluded="heart-rate-limits" if rate else None
    )


def pressures_present(reading: Reading, limits: ReadingLimits) -> Reason | None:  # noqa: ARG001
    """Both pressures, or none counts: half a reading would enter one mean and not the other."""
    why = _MISSING[reading.systolic is None, reading.diastolic is None]
    return Reason("pressure-missing", Phrase(why)) if why else None


def systolic_above_diastolic(reading: Reading, limits: ReadingLimits) -> Reason | None:  # noqa: ARG001
    """Systolic pressure is the higher one."""
    if reading.systolic is None or reading.diastolic is None or reading.systolic > reading.diastolic:
        return None
    return Reason("systolic-not-above-diastolic", Phrase("systolic is not above diastolic"))


def systolic_within(reading: Reading, limits: ReadingLimits) -> Reason | None:
    """Systolic pressure within the chosen limits."""
    return _reason("systolic", reading.systolic, limits.systolic)


def diastolic_within(reading: Reading, limits: ReadingLimits) -> Reason | None:
    """Diastolic pressure within the chosen limits."""
    return _reason("diastolic", reading.diastolic, limits.diastolic)


def pulse_pressure_within(reading: Reading, limits: ReadingLimits) -> Reason | None:
    """Difference of the two pressures within the chosen limits."""
    if reading.systolic is None or reading.diastolic is None:
        return None
    return _reason("pulse-pressure", Tenths(reading.systolic - reading.diastolic), limits.pulse_pressure)


CHECKS: tuple[Check, ...] = (
    pressures_present,
    systolic_above_diastolic,
    systolic_within,
    diastolic_within,
    pulse_pressure_within,
)


def _reason(name: str, value: Tenths | None, limits: Range | None) -> Reason | None:
    if limits is None or not _beyond(value, limits):
        return None
    return Reason(f"{name}-limits", Phrase(_OUTSIDE[name], low=_plain(limits.low), high=_plain(limits.high)))


def _beyond(value: Tenths | None, limits: Range | None) -> bool:
    return value is not None and limits is not None and not 10 * limits.low <= value <= 10 * limits.high


def _plain(limit: Decimal) -> str:
    return format(limit.normalize(), "f")


def exclusions_said(case: Case) -> Iterator[Remark]:
    """One note for every rule that keeps readings, or heart rates, out."""
    rules = dict.fromkeys(judged.rule for judged in case.judged if judged.use is Use.EXCLUDED and judged.rule)
    for rule in rules:
        found = [judged for judged in case.judged if judged.use is Use.EXCLUDED and judged.rule == rule]
        said = Phrase("{readings} kept out: {why}.", readings=_readings(len(found)), why=found[0].why)
        yield note(rule, said, [j.reading.row for j in found])
    rates = [judged.reading.row for judged in case.judged if judged.heart_rate_excluded]
    if rates:
        said = Phrase("{readings} kept without the heart rate: outside limits.", readings=_readings(len(rates)))
        yield note("heart-rate-limits", said, rates)


def something_valid(case: Case) -> Iterator[Remark]:
    """Not one reading can be used: the recording must be repeated."""
    if not any(judged.use is Use.VALID for judged in case.judged):
        yield Doubt(rule="nothing-valid", reason=HoldReason.NOTHING_VALID, waivable=False)


def _readings(count: int) -> Phrase:
    return Phrase("1 reading") if count == 1 else Phrase("{count} readings", count=count)

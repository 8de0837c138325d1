"""Statements that compare: awake with asleep, in the clinic with outside, and low pressure under treatment.

Each is worded "seen with …, to be confirmed" and names its values beside their limits.
"""

from collections.abc import Iterator, Mapping

from gateway.analyse.interpret import deciding, limit_of, raised
from gateway.analyse.numbers import Pair
from gateway.analyse.words import Pattern, Sentence, limit_pair, pair, plain, say
from gateway.mapping.guideline import Guideline
from gateway.mapping.studies import LOW_PRESSURE, LOW_PRESSURE_STUDY
from gateway.model import Circumstances, Interpretation, PeriodName, Subject, reported
from gateway.model.phrase import Phrase, joined

Means = Mapping[PeriodName, Pair]
"""Means of one day that may be held against limits."""

_PATTERNS = {
    (False, False): "both-below",
    (True, False): "clinic-only",
    (False, True): "outside-only",
    (True, True): "both-above",
}
_UNDER = {True: "_TREATED", False: "", None: "_UNKNOWN"}
_OUTSIDE = {
    PeriodName.WHOLE: ("24-hour {value} at or above {limit}", "24-hour {value} below {limit}"),
    PeriodName.AWAKE: ("awake {value} at or above {limit}", "awake {value} below {limit}"),
    PeriodName.ASLEEP: ("asleep {value} at or above {limit}", "asleep {value} below {limit}"),
}


def awake_against_asleep(means: Means, guideline: Guideline, day: int) -> Iterator[Interpretation]:
    """Pressure at or above the limit in one of awake and asleep only (after Li 2007)."""
    awake, asleep = means.get(PeriodName.AWAKE), means.get(PeriodName.ASLEEP)
    by_day, by_night = guideline.of(PeriodName.AWAKE), guideline.of(PeriodName.ASLEEP)
    both = {PeriodName.AWAKE, PeriodName.ASLEEP} <= set(guideline.deciding_periods)
    if not both or awake is None or asleep is None or by_day is None or by_night is None:
        return
    up_awake, up_asleep = raised(by_day, awake), raised(by_night, asleep)
    if up_awake == up_asleep:
        return
    template = Sentence.AWAKE_ONLY if up_awake else Sentence.ASLEEP_ONLY
    yield Interpretation(
        subject=Subject.PATTERN,
        period=None,
        day=day,
        result="awake-only" if up_awake else "asleep-only",
        text=say(
            template,
            awake=pair(awake.systolic, awake.diastolic),
            asleep=pair(asleep.systolic, asleep.diastolic),
            awake_limit=limit_of(deciding(by_day)),
            asleep_limit=limit_of(deciding(by_night)),
            guideline=guideline.short,
        ),
    )


def clinic_against_outside(
    means: Means, circumstances: Circumstances, guideline: Guideline, day: int
) -> Iterator[Interpretation]:
    """Two by two of clinic and ambulatory pressure. Outside counts as raised when any period that the guideline
    decides on is; as not raised only when all of them are known to be below."""
    upper, lower, limit = circumstances.clinic_systolic, circumstances.clinic_diastolic, guideline.clinic
    if upper is None or lower is None or limit is None:
        return
    outside = _outside(means, guideline)
    if outside is None:
        return
    text, above_outside = outside
    clinic = Pair(reported(upper, 10), reported(lower, 10))
    above = clinic.systolic >= limit.systolic or clinic.diastolic >= limit.diastolic
    result = _PATTERNS[above, above_outside]
    unseen = guideline.clinic_unverified and not guideline.approved_by
    yield Interpretation(
        subject=Subject.CLINIC_PATTERN,
        period=None,
        day=day,
        result=result,
        text=say(
            Sentence.CLINIC_UNVERIFIED if unseen else Sentence.CLINIC,
            clinic=f"{plain(clinic.systolic)}/{plain(clinic.diastolic)}",
            clinic_side=Phrase("at or above") if above else Phrase("below"),
            clinic_limit=limit_pair(limit.systolic, limit.diastolic),
            means=text,
            guideline=guideline.short,
            pattern=Phrase(_words(result, circumstances.treated).value),
        ),
    )


def _words(result: str, treated: bool | None) -> Pattern:
    """Whether a person is treated changes the words; where nobody knows, that is said."""
    name = result.replace("-", "_").upper()
    return Pattern.BOTH_BELOW if name == "BOTH_BELOW" else Pattern[name + _UNDER[treated]]


def _outside(means: Means, guideline: Guideline) -> tuple[str, bool] | None:
    parts: list[Phrase] = []
    above = False
    for period in guideline.deciding_periods:
        limits, found = guideline.of(period), means.get(period)
        if limits is None or found is None:
            continue
        up = raised(limits, found)
        above = above or up
        reached, under = _OUTSIDE[period]
        value, limit = pair(found.systolic, found.diastolic), limit_of(deciding(limits))
        parts.append(Phrase(reached if up else under, value=value, limit=limit))
    if not above and len(parts) < len(guideline.deciding_periods):
        return None
    return joined(", ", parts), above


def low_pressure(
    means: Means, circumstances: Circumstances, places: Mapping[PeriodName, str], day: int
) -> Iterator[Interpretation]:
    """Remarks on low means, only under treatment or when treatment is not known; words only, no code."""
    if circumstances.treated is False:
        return
    for limit in LOW_PRESSURE:
        found = means.get(limit.period)
        if found is None or (found.systolic >= limit.systolic and found.diastolic >= limit.diastolic):
            continue
        yield Interpretation(
            subject=Subject.LOW_PRESSURE,
            period=limit.period,
            day=day,
            result="below-study-limit",
            text=say(
                Sentence.LOW,
                place=places[limit.period],
                value=pair(found.systolic, found.diastolic),
                limit=limit_pair(limit.systolic, limit.diastolic),
                study=LOW_PRESSURE_STUDY,
            ),
        )

"""The closed list of everything that the analysis can say in words.

A sentence always names the value beside its limit, and never says what a person has. What stands in braces is
a number, a name of a guideline, or one of the short words below. A test walks the whole list.
"""

from decimal import Decimal
from enum import StrEnum
from string import Formatter

from gateway.analyse.reasons import Because as Because
from gateway.model import PeriodName
from gateway.model.phrase import Phrase


class Sentence(StrEnum):
    """Templates of whole sentences."""

    AT_OR_ABOVE = "{place} {value} mmHg: at or above the limit {limit} of {guideline}."
    BELOW = "{place} {value} mmHg: below the limit {limit} of {guideline}."
    AT_OR_ABOVE_GRADE = (
        "{place} {value} mmHg: at or above the limit {limit} of {guideline} ({grade}, {grade_limit} and above)."
    )
    BELOW_GRADE = "{place} {value} mmHg: below the limit {limit} of {guideline} ({grade}, {grade_limit} and above)."
    COMPARED_AT_OR_ABOVE = (
        "{place} {value} mmHg: at or above {limit}, which {guideline} gives for comparison and does not decide on."
    )
    COMPARED_BELOW = (
        "{place} {value} mmHg: below {limit}, which {guideline} gives for comparison and does not decide on."
    )
    VALUE = "{place} {value} mmHg ({count}), without interpretation."
    NO_LIMIT = "{place} {value} mmHg ({count}); {guideline} states no limit for it."
    SHORT_DAY = (
        "{place} {value} mmHg ({count}): only {hours} of 24 hours hold a valid reading, "
        "so no 24-hour limit is applied."
    )
    FEW = "{place} {value} mmHg ({count}), not held against a limit: too few valid readings in this period."
    FEW_ASLEEP = (
        "{place} {value} mmHg ({count}), not held against a limit: this needs 20 awake and 7 asleep valid readings."
    )
    NO_VALUE = "{place}: no value, because no valid reading lies in this period."
    SIDES = (
        "{place}: arithmetic mean {arithmetic} and mean of hourly means {hourly} mmHg lie on different sides of the "
        "limit {limit} of {guideline}; the {deciding} decides."
    )
    DIP = "{component} dip {percent} % (awake {awake}, asleep {asleep} mmHg): {dip_class} ({range})."
    DIP_UNCLASSED = "Dip not classed: this needs 20 awake and 7 asleep valid readings."
    ASLEEP_ONLY = (
        "Awake {awake} mmHg below {awake_limit} and asleep {asleep} mmHg at or above {asleep_limit} of {guideline}: "
        "seen with raised pressure during sleep only, to be confirmed."
    )
    AWAKE_ONLY = (
        "Awake {awake} mmHg at or above {awake_limit} and asleep {asleep} mmHg below {asleep_limit} of {guideline}: "
        "seen with raised pressure while awake only, to be confirmed."
    )
    CLINIC = (
        "Clinic {clinic} mmHg {clinic_side} {clinic_limit}, outside the clinic {means} "
        "({guideline}): seen with {pattern}, to be confirmed."
    )
    CLINIC_UNVERIFIED = (
        "Clinic {clinic} mmHg {clinic_side} {clinic_limit}, outside the clinic {means} "
        "({guideline}): seen with {pattern}, to be confirmed. The clinic limit was not verified at its source."
    )
    LOW = "{place} {value} mmHg: below {limit} of {study} (a study, not a guideline); to be seen with symptoms."
    ADEQUATE = "Good enough by the rule of {rule}: {counts}."
    NOT_ADEQUATE = "Not good enough by the rule of {rule}: {reasons} Repeating the recording is advised."
    NOT_PROVEN = "Not proven to be good enough by the rule of {rule}: {reasons}"
    NOT_PROVEN_SCHEDULE = (
        "Not proven to be good enough by the rule of {rule}: the schedule is not known, so the share of valid "
        "readings cannot be stated."
    )
    IRREGULAR = (
        "Irregular pulse: automated values may be wrong, check by hand; "
        "variability, stiffness and double product are not stated."
    )
    TREATED = "Treated: each limit is a diagnostic limit, not a treatment target."
    TREATMENT_UNKNOWN = "Treatment not known: each limit is a diagnostic limit, not a treatment target."
    SLEPT_BY_DAY = "Sleep was by day: awake and asleep are compared, not day and night."
    CHECK_CLOCK = "Pressure and heart rate are both higher asleep than awake: check the clock or the sleep times."
    ALERT_AT_OR_ABOVE = "Your local rule ({name}): {what} {found}, at or above {bound}."
    ALERT_BELOW = "Your local rule ({name}): {what} {found}, below {bound}."
    ALERT_READINGS_AT_OR_ABOVE = "Your local rule ({name}): {count}, {what} at or above {bound}."
    ALERT_READINGS_BELOW = "Your local rule ({name}): {count}, {what} below {bound}."
    APPROVED = "Limits of {guideline} approved locally by {approver} on {date}."
    UNVERIFIED = "Not every limit of {guideline} used here was verified at its source."
    NOT_INTERPRETED = "Values only: {why}"


class Why(StrEnum):
    """Why no limits are applied to a person."""

    AGE_UNKNOWN = "the age is not known, so no limits for adults are applied."
    TOO_YOUNG = "the limits of {guideline} are used from the age of {age} years on."
    TOO_OLD = "the limits of {guideline} are used up to the age of {age} years only."
    PREGNANT = "the limits of {guideline} are not meant for pregnancy."
    NOT_PREGNANT = "the limits of {guideline} are meant for pregnancy only."
    TOO_LATE = "the limits of {guideline} are meant for pregnancy before week {week} only."


class Change(StrEnum):
    """Beside earlier recordings of the same person."""

    MEAN = (
        "{place} {value} mmHg, {earlier} mmHg in the recording of {date}: systolic {systolic}, diastolic {diastolic}."
    )
    DIP = (
        "Systolic dip {percent} % ({dip_class}), {earlier} % ({earlier_class}) in the recording of {date}: "
        "the class of the dip on a single day repeats poorly."
    )
    WINDOWS = "Awake and asleep were found in another way then, so these averages compare less well."
    COURSE = "{place} in earlier recordings: {course} mmHg."


class Pattern(StrEnum):
    """Clinic pressure against pressure outside the clinic."""

    BOTH_BELOW = "pressure below the limits in and outside the clinic"
    CLINIC_ONLY = "a white-coat pattern"
    CLINIC_ONLY_TREATED = "a white-coat effect under treatment"
    CLINIC_ONLY_UNKNOWN = "a white-coat pattern, or under treatment a white-coat effect (treatment not known)"
    OUTSIDE_ONLY = "a masked pattern"
    OUTSIDE_ONLY_TREATED = "a masked pattern under treatment"
    OUTSIDE_ONLY_UNKNOWN = "a masked pattern (treatment not known)"
    BOTH_ABOVE = "sustained raised pressure"
    BOTH_ABOVE_TREATED = "sustained raised pressure under treatment"
    BOTH_ABOVE_UNKNOWN = "sustained raised pressure (treatment not known)"


class Origin(StrEnum):
    """Where the awake and asleep times came from."""

    DIARY = "Awake and asleep by the person's diary."
    MARKED = "Awake and asleep by the sleep marks in the file, which count as a diary."
    SITE = "Awake and asleep by the fixed times of this site."
    GUIDELINE = "Awake and asleep by the fixed times of {guideline}."
    DAY_BY_SITE = "Day {day} by the fixed times of this site."
    DAY_BY_GUIDELINE = "Day {day} by the fixed times of {guideline}."


def say(template: Sentence | Origin | Why | Change, **parts: object) -> Phrase:
    """The template filled in, as a phrase that other languages can say too; parts that it has no gap for are left."""
    gaps = {name for _, name, _, _ in Formatter().parse(template.value) if name}
    return Phrase(template.value, **{name: part for name, part in parts.items() if name in gaps})


PLACES = {
    PeriodName.WHOLE: Phrase("24-hour average"),
    PeriodName.AWAKE: Phrase("Awake average"),
    PeriodName.ASLEEP: Phrase("Asleep average"),
}
SHORT_WHOLE = Phrase("Average of the whole recording")
MEANS = {"arithmetic": Phrase("arithmetic mean"), "hourly": Phrase("mean of hourly means")}


def place(period: PeriodName, day: int, days: int, short: bool = False) -> Phrase:
    """Name of a period's average; the day only where there is more than one."""
    name = SHORT_WHOLE if short and period is PeriodName.WHOLE else PLACES[period]
    return Phrase("{place} (day {day})", place=name, day=day) if days > 1 else name


def on_day(text: str, day: int, days: int) -> str:
    """A sentence on a whole day; the day only where there is more than one."""
    return Phrase("Day {day}: {text}", day=day, text=text) if days > 1 else text


def plain(number: Decimal) -> str:
    """A limit without needless zeros: 135, 134.5."""
    return f"{number.normalize():f}"


def pair(systolic: Decimal, diastolic: Decimal) -> str:
    """A measured pair with its decimals: 138.2/84.0."""
    return f"{systolic}/{diastolic}"


def limit_pair(systolic: Decimal, diastolic: Decimal) -> str:
    """A limit as a pair: 135/85."""
    return f"{plain(systolic)}/{plain(diastolic)}"


def readings(count: int) -> Phrase:
    """A count of readings in words."""
    return Phrase("1 valid reading") if count == 1 else Phrase("{count} valid readings", count=count)

"""Why there is no number: the closed list of reasons that a statistic carries instead of its value."""

from enum import StrEnum


class Because(StrEnum):
    """Why there is no number. Each is a whole reason, as a statistic carries it."""

    NO_READING = "not computable, because no valid reading lies in this period"
    NO_HEART_RATE = "not computable, because no valid heart rate lies in this period"
    NO_MEAN_PRESSURE = "not computable, because the monitor gave no mean pressure in this period"
    ONE_READING = "not computable, because it needs two valid readings in this period"
    NO_PAIR = "not computable, because no two valid readings follow each other in this period"
    NO_TIME = "not computable, because the readings of this period carry the same time"
    IRREGULAR = "not computable, because the pulse was irregular"
    NO_LOAD_LIMIT = "not computable, because the guideline states no limit for the load of this period"
    NO_LIMITS = "not computable, because no limits may be applied to this recording"
    NO_AWAKE_OR_ASLEEP = "not computable, because it needs an awake and an asleep period with valid readings"
    FEW_FOR_DIP = "not computable, because it needs 8 awake and 4 asleep valid readings"
    NO_WAKING = "not computable, because the time of waking is not known"
    FEW_AFTER_WAKING = "not computable, because fewer than two valid readings lie in the two hours after waking"
    FEW_BEFORE_WAKING = "not computable, because fewer than two valid readings lie in the two hours before waking"
    FEW_AT_TROUGH = "not computable, because fewer than two valid readings lie around the lowest reading of sleep"
    NO_FIRST_HOUR = "not computable, because no valid reading lies in the first hour"
    FEW_FOR_STIFFNESS = "not computable, because it needs 20 valid readings"
    LITTLE_SPREAD = "not computable, because the systolic pressures vary too little"
    LOOSE_LINE = "not computable, because systolic and diastolic pressure go together too loosely"
    FEW_FOR_RHYTHM = "not computable, because it needs 20 valid readings over 20 hours"
    NO_RHYTHM = "not computable, because the readings do not allow a curve of 24 hours"

"""Every number that the analysis can state, by name."""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from gateway.model.period import PeriodName
from gateway.model.quantity import Unit


class StatisticName(StrEnum):
    """Closed list; the value is what `preview --json` prints and what `mappings/codes` gives a code to."""

    SYSTOLIC_MEAN = "systolic-mean"
    DIASTOLIC_MEAN = "diastolic-mean"
    HEART_RATE_MEAN = "heart-rate-mean"
    SYSTOLIC_MEAN_HOURLY = "systolic-mean-hourly"
    DIASTOLIC_MEAN_HOURLY = "diastolic-mean-hourly"
    HEART_RATE_MEAN_HOURLY = "heart-rate-mean-hourly"
    MEAN_PRESSURE_MEAN = "mean-pressure-mean"
    """mean of the mean pressures that the monitor measured"""
    MEAN_PRESSURE_DERIVED = "mean-pressure-derived"
    """DBP + (SBP − DBP)/3 of the reported means; never mixed with the measured one"""
    PULSE_PRESSURE_MEAN = "pulse-pressure-mean"
    DOUBLE_PRODUCT_MEAN = "double-product-mean"
    SYSTOLIC_MAXIMUM = "systolic-maximum"
    SYSTOLIC_MINIMUM = "systolic-minimum"
    DIASTOLIC_MAXIMUM = "diastolic-maximum"
    DIASTOLIC_MINIMUM = "diastolic-minimum"
    HEART_RATE_MAXIMUM = "heart-rate-maximum"
    HEART_RATE_MINIMUM = "heart-rate-minimum"
    SYSTOLIC_SD = "systolic-sd"
    DIASTOLIC_SD = "diastolic-sd"
    HEART_RATE_SD = "heart-rate-sd"
    SYSTOLIC_CV = "systolic-cv"
    DIASTOLIC_CV = "diastolic-cv"
    SYSTOLIC_ARV = "systolic-arv"
    DIASTOLIC_ARV = "diastolic-arv"
    SYSTOLIC_ARV_WEIGHTED = "systolic-arv-weighted"
    DIASTOLIC_ARV_WEIGHTED = "diastolic-arv-weighted"
    SYSTOLIC_LOAD = "systolic-load"
    DIASTOLIC_LOAD = "diastolic-load"
    SYSTOLIC_SD_WEIGHTED = "systolic-sd-weighted"
    DIASTOLIC_SD_WEIGHTED = "diastolic-sd-weighted"
    SYSTOLIC_DIP = "systolic-dip"
    DIASTOLIC_DIP = "diastolic-dip"
    HEART_RATE_DIP = "heart-rate-dip"
    SURGE_SLEEP_TROUGH = "surge-sleep-trough"
    SURGE_PRE_WAKING = "surge-pre-waking"
    MORNING_MEAN = "morning-mean"
    """systolic mean of the two hours after waking"""
    FIRST_HOUR_SYSTOLIC_MEAN = "first-hour-systolic-mean"
    FIRST_HOUR_DIASTOLIC_MEAN = "first-hour-diastolic-mean"
    AASI = "aasi"
    AASI_SYMMETRIC = "aasi-symmetric"
    SYSTOLIC_MESOR = "systolic-mesor"
    SYSTOLIC_AMPLITUDE = "systolic-amplitude"
    SYSTOLIC_PEAK_TIME = "systolic-peak-time"
    """hours after local midnight, 0 <= value < 24"""
    SYSTOLIC_RHYTHM_F = "systolic-rhythm-f"
    SYSTOLIC_RHYTHM_P = "systolic-rhythm-p"
    DIASTOLIC_MESOR = "diastolic-mesor"
    DIASTOLIC_AMPLITUDE = "diastolic-amplitude"
    DIASTOLIC_PEAK_TIME = "diastolic-peak-time"
    DIASTOLIC_RHYTHM_F = "diastolic-rhythm-f"
    DIASTOLIC_RHYTHM_P = "diastolic-rhythm-p"


@dataclass(frozen=True, slots=True, kw_only=True)
class Statistic:
    """One number, or the reason why there is none.

    `value` is the number as reported (exact decimals), None with `reason` "not computable, because …".
    `period` None: of the whole recording or day. `count` is how many readings it rests on. `day` is 1 or 2.
    """

    name: StatisticName
    period: PeriodName | None
    value: Decimal | None
    unit: Unit
    count: int
    reason: str | None = None
    day: int = 1

    def __post_init__(self) -> None:
        if (self.value is None) == (self.reason is None):
            raise ValueError("a statistic has a value or a reason, never both or neither")
        if self.value is not None and not self.value.is_finite():
            raise ValueError("missing is missing: a statistic is never NaN or infinite")

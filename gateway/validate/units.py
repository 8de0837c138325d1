"""Do the pressures look like mmHg at all?"""

from collections.abc import Iterator, Sequence
from statistics import median_low

from gateway.model import HoldReason
from gateway.validate.case import Case, Doubt, Remark

# tenths of mmHg; 1 kPa = 7.50062 mmHg. Nobody's usual systolic pressure is under 40 mmHg (5.3 kPa), so such numbers
# are kPa; none is over 350 mmHg (47 kPa), so such numbers are mmHg that were taken for kPa.
_LEAST, _GREATEST = 400, 3500


def unit_plausible(case: Case) -> Iterator[Remark]:
    """Hold a recording whose middle systolic (or, without any, diastolic) pressure cannot be in mmHg.

    Nothing is converted: which unit it is must be asked.
    """
    readings = case.recording.readings
    systolic = [reading.systolic for reading in readings if reading.systolic is not None]
    diastolic = [reading.diastolic for reading in readings if reading.diastolic is not None]
    if _far_off(systolic) or (not systolic and _far_off(diastolic, least=_LEAST // 2)):
        yield Doubt(rule="units-doubtful", reason=HoldReason.UNITS_DOUBTFUL, waivable=False)


def _far_off(values: Sequence[int], least: int = _LEAST) -> bool:
    return bool(values) and not least <= median_low(values) <= _GREATEST

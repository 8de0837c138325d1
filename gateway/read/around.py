"""What stands around the readings: monitor, programme, circumstances."""

from decimal import Decimal

from gateway.mapping.source import SourceMap
from gateway.model import Circumstances, Monitor, Schedule
from gateway.read import preamble, values
from gateway.read.extract import Extract
from gateway.read.readings import Unit
from gateway.read.zone import Zoning


def monitor(file: Extract, source: SourceMap) -> Monitor:
    """The monitor and how it was fitted."""
    places = source.monitor
    circumference: Decimal | None = None
    if (place := places.arm_circumference) is not None:
        part = "monitor.arm_circumference"
        mark = place.decimal or source.format.decimal
        circumference = values.number(part, preamble.one(part, file, place), mark)
    return Monitor(
        model=preamble.text("monitor.model", file, places.model),
        serial=preamble.text("monitor.serial", file, places.serial),
        cuff_size=preamble.text("monitor.cuff_size", file, places.cuff_size),
        arm_circumference=None if circumference is None else float(circumference),
        arm=preamble.coded("monitor.arm", file, places.arm),
    )


def schedule(file: Extract, source: SourceMap, where: Zoning, remarks: list[str]) -> Schedule:
    """The programme of the monitor; doubts about its times are added to the remarks."""
    places = source.schedule
    return Schedule(
        interval_day=preamble.whole("schedule.interval_day", file, places.interval_day, source),
        interval_night=preamble.whole("schedule.interval_night", file, places.interval_night, source),
        day_from=preamble.clock("schedule.day_from", file, places.day_from),
        night_from=preamble.clock("schedule.night_from", file, places.night_from),
        planned=preamble.whole("schedule.planned", file, places.planned, source),
        fitted_at=preamble.moment("schedule.fitted_at", file, places.fitted_at, where, remarks),
        removed_at=preamble.moment("schedule.removed_at", file, places.removed_at, where, remarks),
    )


def circumstances(file: Extract, source: SourceMap, unit: Unit) -> Circumstances:
    """Facts that change how the numbers may be read."""
    places = source.circumstances
    return Circumstances(
        order=preamble.text("circumstances.order", file, places.order),
        indication=preamble.text("circumstances.indication", file, places.indication),
        treated=preamble.coded("circumstances.treated", file, places.treated),
        pregnancy_weeks=preamble.whole("circumstances.pregnancy_weeks", file, places.pregnancy_weeks, source),
        irregular_pulse=preamble.coded("circumstances.irregular_pulse", file, places.irregular_pulse),
        clinic_systolic=preamble.pressure(
            "circumstances.clinic_systolic", file, places.clinic_systolic, source, unit
        ),
        clinic_diastolic=preamble.pressure(
            "circumstances.clinic_diastolic", file, places.clinic_diastolic, source, unit
        ),
    )

"""What stands around the readings: monitor, programme, circumstances, sleep."""

from decimal import Decimal
from itertools import pairwise

from gateway.mapping.source import SourceMap
from gateway.model import Circumstances, Diary, HoldReason, Interval, Monitor, Schedule
from gateway.read import preamble, values
from gateway.read.extract import Extract
from gateway.read.held import Held
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


def schedule(file: Extract, source: SourceMap, where: Zoning) -> Schedule:
    """The programme of the monitor."""
    places = source.schedule
    return Schedule(
        interval_day=preamble.whole("schedule.interval_day", file, places.interval_day, source),
        interval_night=preamble.whole("schedule.interval_night", file, places.interval_night, source),
        day_from=preamble.clock("schedule.day_from", file, places.day_from),
        night_from=preamble.clock("schedule.night_from", file, places.night_from),
        planned=preamble.whole("schedule.planned", file, places.planned, source),
        fitted_at=preamble.moment("schedule.fitted_at", file, places.fitted_at, where),
        removed_at=preamble.moment("schedule.removed_at", file, places.removed_at, where),
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


def diary(file: Extract, source: SourceMap, where: Zoning) -> Diary:
    """Spans of sleep in order of time. Raises Held for a span without an end, one that ends before it starts, and
    for spans that overlap.
    """
    spans: set[Interval] = set()
    for sleep in source.diary.asleep:
        begins = preamble.moments("diary.asleep.fell_asleep", file, sleep.fell_asleep, where)
        ends = preamble.moments("diary.asleep.woke", file, sleep.woke, where)
        if len(begins) != len(ends):
            raise Held(HoldReason.SLEEP_DOUBTFUL, "a time of falling asleep or of waking is missing")
        for begin, end in zip(begins, ends, strict=True):
            if begin is None and end is None:
                continue
            if begin is None or end is None:
                raise Held(HoldReason.SLEEP_DOUBTFUL, "a time of falling asleep or of waking is missing")
            # both comparisons: in one zone Python compares wall-clock times, which turn round when clocks go back
            if begin.timestamp() >= end.timestamp() or not begin < end:
                raise Held(HoldReason.SLEEP_DOUBTFUL, "a sleep ends before it begins")
            spans.add(Interval(begin, end))
    ordered = sorted(spans, key=lambda span: span.start.timestamp())
    if any(second.start.timestamp() < first.end.timestamp() for first, second in pairwise(ordered)):
        raise Held(HoldReason.SLEEP_DOUBTFUL, "two sleeps overlap")
    return Diary(asleep=tuple(ordered))

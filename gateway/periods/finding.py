"""Recording -> Windows: diary, else marks, else the site's clock times, else those of the guideline."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from gateway.mapping.rules import Rules
from gateway.model import Hold, Interval, Period, PeriodName, Recording, WindowOrigin, Windows
from gateway.periods import fixed
from gateway.periods.clock import Clock, clock_of
from gateway.periods.frame import days, reach
from gateway.periods.sleep import Sleep, by_day, doubt, known_sleep, unknown_days, waking
from gateway.periods.spans import clipped, outside, total


@dataclass(frozen=True, slots=True)
class _Parts:
    """Awake and asleep of one day (UTC); `means` may be narrower than the `whole` partition."""

    awake_means: tuple[Interval, ...]
    awake_whole: tuple[Interval, ...]
    asleep_means: tuple[Interval, ...]
    asleep_whole: tuple[Interval, ...]


def find(recording: Recording, rules: Rules, *, trust_sleep: bool = False) -> Windows | Hold:
    """All periods of a recording, or the hold for sleep times that cannot be right.

    Half-open spans of real elapsed time whose ends carry the local offset. Without any sleep inside the recording
    there are only awake and 24-hour periods. `trust_sleep`: a named person let doubtful sleep times pass.
    """
    clock, frames = clock_of(recording), days(recording)
    sleep = known_sleep(recording)
    if sleep is None:
        return _by_the_clock(clock, frames, rules)
    within = reach(recording)
    if not trust_sleep and (hold := doubt(sleep, frames, within)) is not None:
        return hold
    return _by_sleep(clock, frames, replace(sleep, spans=clipped(sleep.spans, within)), rules)


def _by_sleep(clock: Clock, frames: Sequence[Interval], sleep: Sleep, rules: Rules) -> Windows:
    unknown = unknown_days(sleep, frames)
    parts = []
    for day, frame in enumerate(frames, start=1):
        asleep, awake = clipped(sleep.spans, frame), outside(sleep.spans, frame)
        parts.append(_fixed(clock, frame, rules) if day in unknown else _Parts(awake, awake, asleep, asleep))
    found = _windows(clock, frames, parts, sleep.origin)
    wakings = tuple(clock.local(instant) for instant in waking(sleep, frames))
    return replace(
        found,
        waking=wakings,
        sleep_by_day=by_day(sleep, clock),
        by_clock=unknown,
        clock_origin=_clock_origin(rules),
    )


def _by_the_clock(clock: Clock, frames: Sequence[Interval], rules: Rules) -> Windows:
    parts = [_fixed(clock, frame, rules) for frame in frames]
    return _windows(clock, frames, parts, _clock_origin(rules))


def _clock_origin(rules: Rules) -> WindowOrigin:
    return WindowOrigin.SITE if rules.windows else WindowOrigin.GUIDELINE


def _fixed(clock: Clock, frame: Interval, rules: Rules) -> _Parts:
    chosen = rules.windows or rules.guideline.windows
    asleep = fixed.asleep_whole(chosen, clock, frame)
    return _Parts(
        fixed.awake_means(chosen, clock, frame),
        outside(asleep, frame),
        fixed.asleep_means(chosen, clock, frame),
        asleep,
    )


def _windows(clock: Clock, frames: Sequence[Interval], parts: Sequence[_Parts], origin: WindowOrigin) -> Windows:
    return Windows(
        periods=tuple(
            period
            for day, (frame, part) in enumerate(zip(frames, parts, strict=True), start=1)
            for period in _periods(clock, day, frame, part)
        ),
        origin=origin,
    )


def _periods(clock: Clock, day: int, frame: Interval, part: _Parts) -> Iterator[Period]:
    for name, means, whole in (
        (PeriodName.WHOLE, (frame,), (frame,)),
        (PeriodName.AWAKE, part.awake_means, part.awake_whole),
        (PeriodName.ASLEEP, part.asleep_means, part.asleep_whole),
    ):
        if total(means):
            yield Period(
                name=name,
                day=day,
                means=tuple(clock.of(span) for span in means),
                whole=tuple(clock.of(span) for span in whole),
            )

"""The course of pressure and heart rate as an SVG picture, the same for the page and for a screen."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from gateway.model import Judged, Use
from gateway.report import palette, svg
from gateway.report.scene import DrawnLimit, Scene
from gateway.report.text import clock as clock_text
from gateway.report.text import short_date, whole
from gateway.report.words import Words

LEFT, RIGHT, TOP = 30.0, 50.0, 24.0
HEART_HEIGHT, STRIP, KEY = 34.0, 10.0, 14.0
DAY_TICKS, LONG_TICKS = 2, 4
LONG = timedelta(hours=30)
TALLEST = 3000
"""tenths of mmHg; anything above is drawn at the edge"""


@dataclass(frozen=True, slots=True)
class Frame:
    """Where things stand, in points. `low` and `high` bound the pressure axis in mmHg."""

    scene: Scene
    width: float
    height: float
    low: int
    high: int

    @property
    def floor(self) -> float:
        """Lower edge of the pressure panel."""
        return self.height - HEART_HEIGHT - STRIP - KEY - 24

    @property
    def right(self) -> float:
        """Right edge of both panels."""
        return self.width - RIGHT

    def x(self, instant: datetime) -> float:
        """Across: real time, held inside the frame."""
        whole_span = self.scene.end.timestamp() - self.scene.start.timestamp()
        share = (instant.timestamp() - self.scene.start.timestamp()) / whole_span
        return LEFT + min(max(share, 0.0), 1.0) * (self.right - LEFT)

    def y(self, mmhg: float) -> float:
        """Up: pressure, held inside the frame."""
        share = (mmhg - self.low) / (self.high - self.low)
        return self.floor - min(max(share, 0.0), 1.0) * (self.floor - TOP)


def draw(scene: Scene, words: Words, width: float, height: float, title: str) -> str:
    """The picture as SVG text, `width` by `height` points."""
    frame = Frame(scene, width, height, *_bounds(scene))
    shapes = [
        *_sleep(frame, words),
        *_grid(frame, words),
        *_clock_changes(frame, words),
        *_pressures(frame, words),
        *_limits(frame, words),
        *_others(frame),
        *_notes(frame),
        *_heart(frame, words),
        *_key(frame, words),
    ]
    return svg.drawing(width, height, shapes, title)


def _bounds(scene: Scene) -> tuple[int, int]:
    judged = (*scene.valid, *scene.others)
    seen = [v for one in judged for v in (one.reading.systolic, one.reading.diastolic) if v is not None]
    seen = [min(value, TALLEST) for value in seen] or [800, 1400]
    low = min(60, (min(seen) - 50) // 200 * 20)
    return max(low, 0), max(180, -(-(max(seen) + 50) // 200) * 20)


def _sleep(frame: Frame, words: Words) -> list[str]:
    shapes = []
    for span in frame.scene.asleep:
        left, right = frame.x(span.start), frame.x(span.end)
        shapes.append(svg.box(left, TOP, right - left, frame.height - KEY - 22 - TOP, palette.SLEEP))
        if right - left > 34:
            shapes.append(svg.text((left + right) / 2, TOP + 9, words["plot-asleep"], palette.QUIET, 7, "middle"))
        shapes.extend(svg.line(x, TOP, x, frame.floor, palette.RULE, 0.5) for x in (left, right))
    return shapes


def _grid(frame: Frame, words: Words) -> list[str]:
    shapes = []
    step = 20 if frame.high - frame.low <= 180 else 40
    for level in range(frame.low, frame.high + 1, step):
        y = frame.y(level)
        shapes.append(svg.line(LEFT, y, frame.right, y, "#c9cdd3", 0.4))
        shapes.append(svg.text(LEFT - 4, y + 2.5, str(level), palette.QUIET, 7, "end"))
    shapes.append(svg.text(LEFT - 4, TOP - 7, words["plot-unit"], palette.QUIET, 7, "end"))
    shapes.append(svg.line(LEFT, frame.floor, frame.right, frame.floor, palette.RULE, 0.8))
    return shapes + _ticks(frame, words)


def _ticks(frame: Frame, words: Words) -> list[str]:
    scene = frame.scene
    step = LONG_TICKS if scene.end - scene.start > LONG else DAY_TICKS
    below = frame.height - KEY - 14
    shapes = []
    dated, last = False, -100.0
    for local in scene.clock.hours(scene.start, scene.end):
        x = frame.x(local)
        shapes.append(svg.line(x, frame.floor, x, frame.floor + (3 if local.hour % step == 0 else 1.5), palette.RULE))
        if local.hour % step or x - last < 22:
            continue
        last = x
        shapes.append(svg.text(x, below, clock_text(local), palette.INK, 7, "middle"))
        if not dated or local.hour == 0:
            dated = True
            anchor = "middle" if x > LEFT + 20 else "start"
            shapes.append(svg.text(x, below + 9, short_date(local.date(), words), palette.QUIET, 7, anchor))
    return shapes


def _clock_changes(frame: Frame, words: Words) -> list[str]:
    shapes = []
    for change in frame.scene.clock.changes(frame.scene.start, frame.scene.end):
        x = frame.x(change.at)
        key = "plot-clock-forward" if change.minutes > 0 else "plot-clock-back"
        shapes.append(svg.line(x, TOP + 12, x, frame.height - KEY - 22, palette.INK, 1, "1.5 2"))
        shapes.append(svg.text(x + 3, TOP + 20, words.say(key, minutes=abs(change.minutes)), palette.INK, 7))
    return shapes


def _pressures(frame: Frame, words: Words) -> list[str]:
    shapes = []
    runs = [([_at(frame, o, True) for o in run], [_at(frame, o, False) for o in run]) for run in frame.scene.stretches]
    shapes.extend(svg.area([*up, *reversed(down)], palette.BAND) for up, down in runs if len(up) > 1)
    shapes.extend(_hours(frame))
    for up, down in runs:
        shapes.append(svg.curve(up, palette.SYSTOLIC, 1.1))
        shapes.append(svg.curve(down, palette.DIASTOLIC, 1.1))
    shapes.append(svg.dots([p for up, _ in runs for p in up], 1.6, palette.SYSTOLIC, palette.SYSTOLIC))
    shapes.append(svg.dots([p for _, down in runs for p in down], 1.6, palette.PAPER, palette.DIASTOLIC))
    if runs:
        high, low = runs[-1][0][-1][1], runs[-1][1][-1][1]
        apart = max(high, TOP + 8), max(low, high + 10)
        shapes.append(svg.text(frame.right + 4, apart[0] + 2.5, words["plot-systolic"], palette.SYSTOLIC, 7.5, bold=True))
        shapes.append(svg.text(frame.right + 4, apart[1] + 2.5, words["plot-diastolic"], palette.DIASTOLIC, 7.5))
    return shapes


def _at(frame: Frame, judged: Judged, systolic: bool) -> svg.Point:
    value = judged.reading.systolic if systolic else judged.reading.diastolic
    return frame.x(judged.reading.at), frame.y((value or 0) / 10)


def _hours(frame: Frame) -> list[str]:
    shapes = []
    for mean in frame.scene.hours:
        left, right = frame.x(mean.start), frame.x(mean.start + timedelta(hours=1))
        for value in (mean.systolic, mean.diastolic):
            y = frame.y(value / 10)
            shapes.append(svg.line(left + 0.6, y, right - 0.6, y, palette.HOURLY, 2.2))
    return shapes


def _limits(frame: Frame, words: Words) -> list[str]:
    shapes = []
    for limit in frame.scene.limits:
        shapes.extend(_limit(frame, words, limit))
    return shapes


def _limit(frame: Frame, words: Words, limit: DrawnLimit) -> list[str]:
    shapes = []
    for at, span in enumerate(limit.spans):
        left, right = frame.x(span.start), frame.x(span.end)
        for value in (limit.systolic, limit.diastolic):
            y = frame.y(float(value))
            shapes.append(svg.line(left, y, right, y, palette.LIMIT, 1, "5 2"))
            if at == 0 and right - left > 40:
                label = words.say("plot-limit", value=whole(value))
                shapes.append(svg.box(left + 2, y - 9.4, 4.1 * len(label), 8, palette.PAPER))
                shapes.append(svg.text(left + 3, y - 3, label, palette.LIMIT, 7))
    return shapes


def _others(frame: Frame) -> list[str]:
    failed = [frame.x(o.reading.at) for o in frame.scene.others if o.use is Use.FAILED]
    strip = frame.floor - 1
    shapes = [svg.area([(x - 2.4, strip - 5), (x + 2.4, strip - 5), (x, strip)], palette.INK) for x in failed]
    for use in (Use.EXCLUDED, Use.LISTED):
        points = [
            (frame.x(one.reading.at), frame.y(value / 10))
            for one in frame.scene.others
            if one.use is use
            for value in (one.reading.systolic, one.reading.diastolic)
            if value is not None
        ]
        if use is Use.EXCLUDED:
            shapes.append(svg.crosses(points, 2.2, palette.INK))
        else:
            shapes.extend(svg.box(x - 1.8, y - 1.8, 3.6, 3.6, palette.PAPER, palette.INK) for x, y in points)
    return shapes


def _notes(frame: Frame) -> list[str]:
    shapes: list[str] = []
    last, row = -100.0, 0
    for count, note in enumerate(frame.scene.notes, start=1):
        x = frame.x(note.at)
        row = 1 - row if x - last < 12 else 0
        last, y = x, 15.0 - 11 * row
        shapes.append(svg.line(x, y + 5, x, frame.floor, palette.RULE, 0.6, "1 2"))
        shapes.append(svg.box(x - 5.5, y - 5, 11, 10, palette.PAPER, palette.INK))
        shapes.append(svg.text(x, y + 2.6, str(count), palette.INK, 7, "middle"))
    return shapes


def _heart(frame: Frame, words: Words) -> list[str]:
    top, bottom = frame.floor + STRIP, frame.floor + STRIP + HEART_HEIGHT
    label = svg.text(LEFT + 3, top + 6, words["plot-heart-rate"], palette.QUIET, 7)
    runs = [
        [(frame.x(o.reading.at), o.reading.heart_rate) for o in run if o.reading.heart_rate and not o.heart_rate_excluded]
        for run in frame.scene.stretches
    ]
    rates = [rate for run in runs for _, rate in run]
    if not rates:
        return [svg.text(LEFT + 3, top + 18, words["plot-no-heart-rate"], palette.QUIET, 7)]
    low, high = min(rates) // 100 * 10, -(-max(rates) // 100) * 10
    high = max(high, low + 20)

    def up(rate: float) -> float:
        return bottom - 3 - (rate / 10 - low) / (high - low) * (HEART_HEIGHT - 12)

    shapes = [label]
    for level in (low, high):
        y = up(level * 10)
        shapes.append(svg.line(LEFT, y, frame.right, y, "#c9cdd3", 0.4))
        shapes.append(svg.text(LEFT - 4, y + 2.5, str(level), palette.QUIET, 7, "end"))
    shapes.extend(svg.curve([(x, up(rate)) for x, rate in run], palette.HEART, 0.8) for run in runs if run)
    return shapes


def _key(frame: Frame, words: Words) -> list[str]:
    y, x = frame.height - 4, LEFT
    uses = {one.use for one in frame.scene.others}
    shapes = []
    for use, key in ((None, "hourly"), (Use.EXCLUDED, "excluded"), (Use.LISTED, "listed"), (Use.FAILED, "failed")):
        if use is not None and use not in uses:
            continue
        shapes.append(_sign(use, x + 5, y - 2.5))
        label = words[f"plot-{key}"]
        shapes.append(svg.text(x + 13, y, label, palette.QUIET, 7))
        x += 24 + 3.9 * len(label)
    return shapes


def _sign(use: Use | None, x: float, y: float) -> str:
    if use is Use.EXCLUDED:
        return svg.crosses([(x, y)], 2.2, palette.INK)
    if use is Use.LISTED:
        return svg.box(x - 1.8, y - 1.8, 3.6, 3.6, palette.PAPER, palette.INK)
    if use is Use.FAILED:
        return svg.area([(x - 2.4, y - 2.5), (x + 2.4, y - 2.5), (x, y + 2.5)], palette.INK)
    return svg.line(x - 5, y, x + 5, y, palette.HOURLY, 2.2)

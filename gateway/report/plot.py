"""The course of pressure and heart rate as an SVG picture, the same for the page and for a screen."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from gateway.model import Judged, Use
from gateway.report import palette, svg
from gateway.report.clock import HOUR
from gateway.report.scene import Scene
from gateway.report.text import clock as clock_text
from gateway.report.text import short_date, tenths, whole
from gateway.report.words import Words

LEFT, RIGHT = 30.0, 50.0
BARE_TOP, NOTE_ROW = 13.0, 11.0
TICK_APART = 22.0
CROWDED = 12.0
"""notes nearer than this (points) stand in two rows"""
HEART_SHARE, STRIP, KEY = 0.15, 8.0, 14.0
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
    top: float

    @property
    def floor(self) -> float:
        """Lower edge of the pressure panel."""
        return self.height - self.heart - STRIP - KEY - 24

    @property
    def heart(self) -> float:
        """Height of the panel of heart rate."""
        return HEART_SHARE * self.height

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
        return self.floor - min(max(share, 0.0), 1.0) * (self.floor - self.top)


def draw(scene: Scene, words: Words, width: float, height: float, title: str) -> str:
    """The picture as SVG text, `width` by `height` points."""
    frame = _framed(scene, width, height)
    shapes = [
        *_sleep(frame),
        *_grid(frame, words),
        *_clock_changes(frame, words),
        *_pressures(frame, words),
        *_limits(frame),
        *_spans(frame, words),
        *_others(frame),
        *_notes(frame),
        *_heart(frame, words),
        *_key(frame, words),
    ]
    return svg.drawing(width, height, shapes, title)


def _framed(scene: Scene, width: float, height: float) -> Frame:
    frame = Frame(scene, width, height, *_bounds(scene), BARE_TOP)
    rows = 1 + max((row for _, row in _placed_notes(frame)), default=-1)
    return replace(frame, top=BARE_TOP + NOTE_ROW * rows)


def _placed_notes(frame: Frame) -> list[tuple[float, int]]:
    """Where each note stands across, and in which row."""
    placed: list[tuple[float, int]] = []
    for note in frame.scene.notes:
        x = frame.x(note.at)
        near = bool(placed) and x - placed[-1][0] < CROWDED
        placed.append((x, 1 - placed[-1][1] if near else 0))
    return placed


def _bounds(scene: Scene) -> tuple[int, int]:
    judged = (*scene.valid, *(one for one in scene.others if one.use is not Use.EXCLUDED))
    seen = [v for one in judged for v in (one.reading.systolic, one.reading.diastolic) if v is not None]
    seen = [min(value, TALLEST) for value in seen] or [800, 1400]
    low = min(60, (min(seen) - 50) // 200 * 20)
    return max(low, 0), max(180, -(-(max(seen) + 50) // 200) * 20)


def _sleep(frame: Frame) -> list[str]:
    shapes = []
    for span in frame.scene.asleep:
        left, right = frame.x(span.start), frame.x(span.end)
        shapes.append(svg.box(left, frame.top, right - left, frame.height - KEY - 22 - frame.top, palette.SLEEP))
        shapes.extend(svg.line(x, frame.top, x, frame.floor, palette.RULE, 0.5) for x in (left, right))
    return shapes


def _spans(frame: Frame, words: Words) -> list[str]:
    """Says at the top of each span what it is and which limit holds there."""
    shapes = []
    for span in frame.scene.spans:
        left, right = frame.x(span.interval.start), frame.x(span.interval.end)
        label = words[f"plot-{span.period}"]
        if span.limit:
            full = words.say("plot-span", period=label, limit=f"{whole(span.limit[0])}/{whole(span.limit[1])}")
            label = full if right - left > 3.9 * len(full) else label
        if right - left > 3.9 * len(label):
            shapes.append(svg.text((left + right) / 2, frame.top + 8, label, palette.QUIET, 7, "middle"))
    return shapes


def _grid(frame: Frame, words: Words) -> list[str]:
    step = 20 if frame.high - frame.low <= 180 else 40
    levels = [(level, frame.y(level)) for level in range(frame.low, frame.high + 1, step)]
    return [
        svg.lines([(LEFT, y, frame.right, y) for _, y in levels], palette.GRID, 0.4),
        *(svg.text(LEFT - 4, y + 2.5, str(level), palette.QUIET, 7, "end") for level, y in levels),
        svg.text(LEFT - 4, frame.top - 6, words["plot-unit"], palette.QUIET, 7, "end"),
        svg.line(LEFT, frame.floor, frame.right, frame.floor, palette.RULE, 0.8),
        *_ticks(frame, words),
    ]


def _ticks(frame: Frame, words: Words) -> list[str]:
    """Local hours below the panels, and the date where a day begins."""
    scene = frame.scene
    step = LONG_TICKS if scene.end - scene.start > LONG else DAY_TICKS
    hours = [(frame.x(local), local) for local in scene.clock.hours(scene.start, scene.end)]
    lengths = ((x, 1.5 if local.hour % step else 3) for x, local in hours)
    shapes = [svg.lines([(x, frame.floor, x, frame.floor + length) for x, length in lengths], palette.RULE)]
    below = frame.height - KEY - 14
    last, dated = -TICK_APART, False
    for x, local in hours:
        if local.hour % step or x - last < TICK_APART:
            continue
        shapes.append(svg.text(x, below, clock_text(local), palette.INK, 7, "middle"))
        if not dated or local.hour == 0:
            anchor = "middle" if x > LEFT + 20 else "start"
            shapes.append(svg.text(x, below + 9, short_date(local.date(), words), palette.QUIET, 7, anchor))
        last, dated = x, True
    return shapes


def _clock_changes(frame: Frame, words: Words) -> list[str]:
    shapes = []
    for change in frame.scene.clock.changes(frame.scene.start, frame.scene.end):
        x = frame.x(change.at)
        key = "plot-clock-forward" if change.minutes > 0 else "plot-clock-back"
        shapes.append(svg.line(x, frame.top + 11, x, frame.height - KEY - 22, palette.INK, 1, "1.5 2"))
        shapes.append(svg.text(x + 3, frame.top + 17, words.say(key, minutes=abs(change.minutes)), palette.INK, 7))
    return shapes


def _pressures(frame: Frame, words: Words) -> list[str]:
    shapes = []
    runs = [([_at(frame, o, True) for o in run], [_at(frame, o, False) for o in run]) for run in frame.scene.stretches]
    shapes.extend(svg.area([*up, *reversed(down)], palette.BAND) for up, down in runs if len(up) > 1)
    shapes.append(_hours(frame))
    for up, down in runs:
        shapes.append(svg.curve(up, palette.SYSTOLIC, 1.1))
        shapes.append(svg.curve(down, palette.DIASTOLIC, 1.1))
    shapes.append(svg.dots([p for up, _ in runs for p in up], 4, palette.SYSTOLIC))
    lower = [p for _, down in runs for p in down]
    shapes += [svg.dots(lower, 4, palette.DIASTOLIC), svg.dots(lower, 2.4, palette.PAPER)]
    if runs:
        high, low = runs[-1][0][-1][1], runs[-1][1][-1][1]
        apart = max(high, frame.top + 8), max(low, high + 10)
        shapes.append(svg.text(frame.right + 4, apart[0] + 2.5, words["plot-systolic"], palette.SYSTOLIC, 7.5, bold=True))
        shapes.append(svg.text(frame.right + 4, apart[1] + 2.5, words["plot-diastolic"], palette.DIASTOLIC, 7.5))
    return shapes


def _at(frame: Frame, judged: Judged, systolic: bool) -> svg.Point:
    value = judged.reading.systolic if systolic else judged.reading.diastolic
    return frame.x(judged.reading.at), frame.y((value or 0) / 10)


def _hours(frame: Frame) -> str:
    pieces = []
    for mean in frame.scene.hours:
        left, right = frame.x(mean.start), frame.x(mean.start + HOUR)
        ys = (frame.y(value / 10) for value in (mean.systolic, mean.diastolic))
        pieces.extend((left + 0.6, y, right - 0.6, y) for y in ys)
    return svg.lines(pieces, palette.HOURLY, 1.7)


def _limits(frame: Frame) -> list[str]:
    pieces = []
    for span in frame.scene.spans:
        left, right = frame.x(span.interval.start), frame.x(span.interval.end)
        ys = (frame.y(float(value)) for value in span.limit or ())
        pieces.extend((left, y, right, y) for y in ys)
    return [svg.lines(pieces, palette.LIMIT, 1, "4 2")]


def _others(frame: Frame) -> list[str]:
    """Failed attempts as wedges on the floor, excluded readings as crosses, extra ones as squares."""
    failed = [frame.x(o.reading.at) for o in frame.scene.others if o.use is Use.FAILED]
    strip = frame.floor - 1
    shapes = [svg.area([(x - 2.4, strip - 5), (x + 2.4, strip - 5), (x, strip)], palette.INK) for x in failed]
    for one in frame.scene.others:
        for value in (one.reading.systolic, one.reading.diastolic):
            if value is None or one.use is Use.FAILED:
                continue
            x, y = frame.x(one.reading.at), frame.y(value / 10)
            if one.use is Use.EXCLUDED:
                shapes.append(svg.crosses([(x, y)], 2.2, palette.INK))
            else:
                shapes.append(svg.box(x - 1.8, y - 1.8, 3.6, 3.6, palette.PAPER, palette.INK))
            if not frame.low <= value / 10 <= frame.high:
                shapes.append(svg.text(x + 4, y + 2.5, tenths(value), palette.INK, 7))
    return shapes


def _notes(frame: Frame) -> list[str]:
    shapes: list[str] = []
    for count, (x, row) in enumerate(_placed_notes(frame), start=1):
        y = frame.top - 9 - NOTE_ROW * row
        shapes.append(svg.line(x, y + 5, x, frame.floor, palette.RULE, 0.6, "1 2"))
        shapes.append(svg.box(x - 5.5, y - 5, 11, 10, palette.PAPER, palette.INK))
        shapes.append(svg.text(x, y + 2.6, str(count), palette.INK, 7, "middle"))
    return shapes


def _heart(frame: Frame, words: Words) -> list[str]:
    top, bottom = frame.floor + STRIP, frame.floor + STRIP + frame.heart
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
        return bottom - 3 - (rate / 10 - low) / (high - low) * (frame.heart - 12)

    shapes = [label]
    for level in (low, high):
        y = up(level * 10)
        shapes.append(svg.line(LEFT, y, frame.right, y, palette.GRID, 0.4))
        shapes.append(svg.text(LEFT - 4, y + 2.5, str(level), palette.QUIET, 7, "end"))
    shapes.extend(svg.curve([(x, up(rate)) for x, rate in run], palette.HEART, 0.8) for run in runs if run)
    return shapes


def _key(frame: Frame, words: Words) -> list[str]:
    y, x = frame.height - 4, LEFT
    uses = {one.use for one in frame.scene.others}
    shown = {
        "hourly": bool(frame.scene.hours),
        "limit": any(span.limit for span in frame.scene.spans),
        "excluded": Use.EXCLUDED in uses,
        "listed": Use.LISTED in uses,
        "failed": Use.FAILED in uses,
        "note": bool(frame.scene.notes),
    }
    shapes = []
    for key in (key for key, here in shown.items() if here):
        shapes.append(_sign(key, x + 5, y - 2.5))
        label = words[f"plot-{key}"]
        shapes.append(svg.text(x + 13, y, label, palette.QUIET, 7))
        x += 26 + 3.8 * len(label)
    return shapes


def _sign(key: str, x: float, y: float) -> str:
    signs = {
        "hourly": svg.line(x - 5, y, x + 5, y, palette.HOURLY, 1.7),
        "limit": svg.line(x - 5, y, x + 5, y, palette.LIMIT, 1, "4 2"),
        "excluded": svg.crosses([(x, y)], 2.2, palette.INK),
        "listed": svg.box(x - 1.8, y - 1.8, 3.6, 3.6, palette.PAPER, palette.INK),
        "failed": svg.area([(x - 2.4, y - 2.5), (x + 2.4, y - 2.5), (x, y + 2.5)], palette.INK),
        "note": svg.box(x - 4, y - 3.5, 8, 7, palette.PAPER, palette.INK),
    }
    return signs[key]

"""The course of pressure and heart rate as an SVG picture, the same for the page and for a screen."""

from collections.abc import Sequence

from gateway.model import Judged, Use
from gateway.report import backdrop, palette, svg
from gateway.report.clock import HOUR
from gateway.report.frame import LEFT, NOTE_ROW, STRIP, Frame, framed, placed_notes
from gateway.report.scene import Scene
from gateway.report.text import tenths
from gateway.report.words import Words


def draw(scene: Scene, words: Words, width: float, height: float, title: str) -> str:
    """The picture as SVG text, `width` by `height` points."""
    frame = framed(scene, width, height)
    shapes = [
        *backdrop.sleep(frame),
        *backdrop.levels(frame, words),
        *backdrop.clock_changes(frame, words),
        *_pressures(frame, words),
        *_limits(frame),
        *backdrop.span_labels(frame, words),
        *_others(frame, words),
        *_notes(frame),
        *_heart(frame, words),
        *backdrop.key(frame, words),
    ]
    return svg.drawing(width, height, shapes, title)


def _pressures(frame: Frame, words: Words) -> list[str]:
    shapes: list[str] = []
    runs = [_edges(frame, run) for run in frame.scene.stretches]
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
        shapes.append(
            svg.text(frame.right + 4, apart[0] + 2.5, words["plot-systolic"], palette.SYSTOLIC, 7.5, bold=True)
        )
        shapes.append(svg.text(frame.right + 4, apart[1] + 2.5, words["plot-diastolic"], palette.DIASTOLIC, 7.5))
    return shapes


def _edges(frame: Frame, run: Sequence[Judged]) -> tuple[list[svg.Point], list[svg.Point]]:
    """The systolic and the diastolic points of a run."""
    across = [frame.x(one.reading.at) for one in run]
    upper = [frame.y((one.reading.systolic or 0) / 10) for one in run]
    lower = [frame.y((one.reading.diastolic or 0) / 10) for one in run]
    return list(zip(across, upper, strict=True)), list(zip(across, lower, strict=True))


def _hours(frame: Frame) -> str:
    pieces: list[svg.Piece] = []
    for mean in frame.scene.hours:
        left, right = frame.x(mean.start), frame.x(mean.start + HOUR)
        ys = (frame.y(value / 10) for value in (mean.systolic, mean.diastolic))
        pieces.extend((left + 0.6, y, right - 0.6, y) for y in ys)
    return svg.lines(pieces, palette.HOURLY, 1.7)


def _limits(frame: Frame) -> list[str]:
    pieces: list[svg.Piece] = []
    for span in frame.scene.spans:
        left, right = frame.x(span.interval.start), frame.x(span.interval.end)
        ys = (frame.y(float(value)) for value in span.limit or ())
        pieces.extend((left, y, right, y) for y in ys)
    return [svg.lines(pieces, palette.LIMIT, 1, "4 2")]


def _others(frame: Frame, words: Words) -> list[str]:
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
                shapes.append(svg.text(x + 4, y + 2.5, words.figure(tenths(value)), palette.INK, 7))
    return shapes


def _notes(frame: Frame) -> list[str]:
    shapes: list[str] = []
    for count, (x, row) in enumerate(placed_notes(frame), start=1):
        y = frame.top - 9 - NOTE_ROW * row
        shapes.append(svg.line(x, y + 5, x, frame.floor, palette.RULE, 0.6, "1 2"))
        shapes.append(svg.box(x - 5.5, y - 5, 11, 10, palette.PAPER, palette.INK))
        shapes.append(svg.text(x, y + 2.6, str(count), palette.INK, 7, "middle"))
    return shapes


def _heart(frame: Frame, words: Words) -> list[str]:
    top, bottom = frame.floor + STRIP, frame.floor + STRIP + frame.heart
    label = svg.text(LEFT + 3, top + 6, words["plot-heart-rate"], palette.QUIET, 7)
    runs = [
        [
            (frame.x(o.reading.at), o.reading.heart_rate)
            for o in run
            if o.reading.heart_rate and not o.heart_rate_excluded
        ]
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

"""What stands behind and around the curves: sleep, levels, hours, clock changes, the key."""

from datetime import timedelta

from gateway.model import Use
from gateway.report import palette, svg
from gateway.report.frame import KEY, LEFT, Frame
from gateway.report.text import clock as clock_text
from gateway.report.text import short_date, whole
from gateway.report.words import Words

DAY_TICKS, LONG_TICKS = 2, 4
"""hours between labels"""
LONG = timedelta(hours=30)
TICK_APART = 22.0


def sleep(frame: Frame) -> list[str]:
    """Shade and edges of each stretch of sleep."""
    shapes = []
    for span in frame.scene.asleep:
        left, right = frame.x(span.start), frame.x(span.end)
        shapes.append(svg.box(left, frame.top, right - left, frame.height - KEY - 22 - frame.top, palette.SLEEP))
        shapes.extend(svg.line(x, frame.top, x, frame.floor, palette.RULE, 0.5) for x in (left, right))
    return shapes


def span_labels(frame: Frame, words: Words) -> list[str]:
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


def levels(frame: Frame, words: Words) -> list[str]:
    """Level lines with their pressures, the floor, and the hours below."""
    step = 20 if frame.high - frame.low <= 180 else 40
    heights = [(level, frame.y(level)) for level in range(frame.low, frame.high + 1, step)]
    return [
        svg.lines([(LEFT, y, frame.right, y) for _, y in heights], palette.GRID, 0.4),
        *(svg.text(LEFT - 4, y + 2.5, str(level), palette.QUIET, 7, "end") for level, y in heights),
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


def clock_changes(frame: Frame, words: Words) -> list[str]:
    """A dotted line where the local clock was changed, and by how much."""
    shapes = []
    for change in frame.scene.changes:
        x = frame.x(change.at)
        key = "plot-clock-forward" if change.minutes > 0 else "plot-clock-back"
        shapes.append(svg.line(x, frame.top + 11, x, frame.height - KEY - 22, palette.INK, 1, "1.5 2"))
        shapes.append(svg.text(x + 3, frame.top + 17, words.say(key, minutes=abs(change.minutes)), palette.INK, 7))
    return shapes


def key(frame: Frame, words: Words) -> list[str]:
    """The signs in use and what they mean."""
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
    for name in (name for name, here in shown.items() if here):
        shapes.append(_sign(name, x + 5, y - 2.5))
        label = words[f"plot-{name}"]
        shapes.append(svg.text(x + 13, y, label, palette.QUIET, 7))
        x += 26 + 3.8 * len(label)
    return shapes


def _sign(name: str, x: float, y: float) -> str:
    signs = {
        "hourly": svg.line(x - 5, y, x + 5, y, palette.HOURLY, 1.7),
        "limit": svg.line(x - 5, y, x + 5, y, palette.LIMIT, 1, "4 2"),
        "excluded": svg.crosses([(x, y)], 2.2, palette.INK),
        "listed": svg.box(x - 1.8, y - 1.8, 3.6, 3.6, palette.PAPER, palette.INK),
        "failed": svg.area([(x - 2.4, y - 2.5), (x + 2.4, y - 2.5), (x, y + 2.5)], palette.INK),
        "note": svg.box(x - 4, y - 3.5, 8, 7, palette.PAPER, palette.INK),
    }
    return signs[name]

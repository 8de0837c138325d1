"""Where things stand on the plot: instants across, pressures up."""

from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property

from gateway.model import Use
from gateway.report.scene import Scene

LEFT, RIGHT = 30.0, 50.0
BARE_TOP, NOTE_ROW = 13.0, 11.0
CROWDED = 12.0
"""notes nearer than this (points) stand in two rows"""
HEART_SHARE, STRIP, KEY = 0.15, 8.0, 14.0
TALLEST = 3000
"""tenths of mmHg; anything above is drawn at the edge"""


@dataclass(frozen=True)
class Frame:
    """Where things stand, in points. `low` and `high` bound the pressure axis in mmHg.

    Without slots: the edges are asked for hundreds of times, so they are kept.
    """

    scene: Scene
    width: float
    height: float
    low: int
    high: int
    top: float

    @cached_property
    def floor(self) -> float:
        """Lower edge of the pressure panel."""
        return self.height - self.heart - STRIP - KEY - 24

    @property
    def heart(self) -> float:
        """Height of the panel of heart rate."""
        return HEART_SHARE * self.height

    @cached_property
    def right(self) -> float:
        """Right edge of both panels."""
        return self.width - RIGHT

    def x(self, instant: datetime) -> float:
        """Across: real time, held inside the frame."""
        share = (instant.timestamp() - self.scene.began) / self.scene.seconds
        return LEFT + min(max(share, 0.0), 1.0) * (self.right - LEFT)

    def y(self, mmhg: float) -> float:
        """Up: pressure, held inside the frame."""
        share = (mmhg - self.low) / (self.high - self.low)
        return self.floor - min(max(share, 0.0), 1.0) * (self.floor - self.top)


def framed(scene: Scene, width: float, height: float) -> Frame:
    """A frame of that size in points whose axis holds every counted reading, with room for the notes above."""
    frame = Frame(scene, width, height, *_bounds(scene), BARE_TOP)
    rows = 1 + max((row for _, row in placed_notes(frame)), default=-1)
    return replace(frame, top=BARE_TOP + NOTE_ROW * rows)


def placed_notes(frame: Frame) -> list[tuple[float, int]]:
    """Where each note stands across, and in which row."""
    placed: list[tuple[float, int]] = []
    for note in frame.scene.notes:
        x = frame.x(note.at)
        near = bool(placed) and x - placed[-1][0] < CROWDED
        placed.append((x, 1 - placed[-1][1] if near else 0))
    return placed


def _bounds(scene: Scene) -> tuple[int, int]:
    judged = (*scene.valid, *(one for one in scene.others if one.use is not Use.EXCLUDED))
    seen = [int(v) for one in judged for v in (one.reading.systolic, one.reading.diastolic) if v is not None]
    lowest, highest = min(seen, default=800), min(max(seen, default=1400), TALLEST)
    low = min(60, (lowest - 50) // 200 * 20)
    return max(low, 0), max(180, -(-(highest + 50) // 200) * 20)

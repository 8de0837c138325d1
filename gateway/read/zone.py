"""Wall-clock times -> instants: which zone, and which of two instants in the hour that the clocks show twice."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, timezone
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from gateway.mapping.site import SiteDefaults
from gateway.model import HoldReason
from gateway.read.held import Held, rows_named
from gateway.read.moment import Wall, fixed, one_day_less

# IANA names of places begin with a capital; this keeps out paths and the host's own "localtime"
_NAME = re.compile(r"[A-Z][A-Za-z0-9_+-]{0,30}(/[A-Za-z0-9_+-]{1,30}){0,2}", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class Zoning:
    """The zone of a file and whence it is known: "cell", "file", "site" or "assumed". `zone` None: not known,
    which is no harm as long as every time carries its own offset. `name` is the IANA name, if it is one.
    """

    zone: ZoneInfo | timezone | None
    name: str | None
    origin: str


def zone_named(name: str) -> ZoneInfo | None:
    """The IANA zone of that name, None when there is none."""
    if not _NAME.fullmatch(name) or name == "Factory":
        return None
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return None


def zoning(named: str | None, walls: Sequence[Wall], defaults: SiteDefaults) -> Zoning:
    """Offset in the cell, else the zone that the file names, else the site's. Raises Held when nothing says it."""
    offsets = all(wall.offset is not None for wall in walls)
    if named is not None:
        zone = zone_named(named)
        if zone is None:
            raise Held(HoldReason.TIME_ZONE_UNKNOWN, "the zone that the file names does not exist")
        return Zoning(zone=zone, name=zone.key, origin="cell" if offsets else "file")
    site = zone_named(defaults.zone) if defaults.zone else None
    if offsets:
        return _zoning_of_cells(walls, None if defaults.zone_assumed else site)
    if site is None:
        raise Held(HoldReason.TIME_ZONE_UNKNOWN)
    return Zoning(zone=site, name=site.key, origin="assumed" if defaults.zone_assumed else "site")


def _zoning_of_cells(walls: Sequence[Wall], site: ZoneInfo | None) -> Zoning:
    """Every row carries its offset. The site's zone is the person's too if it agrees with each of them; else one
    offset that all rows share holds for the other times of the file.
    """
    shared = {wall.offset for wall in walls if wall.offset is not None}
    if site is not None and all(_agrees(site, wall) for wall in walls):
        return Zoning(zone=site, name=site.key, origin="cell")
    only = fixed(next(iter(shared))) if len(shared) == 1 else None
    return Zoning(zone=only, name=None, origin="cell")


def _agrees(zone: ZoneInfo, wall: Wall) -> bool:
    instant = wall.local.replace(tzinfo=fixed(wall.offset or timedelta()))
    return instant.astimezone(zone).utcoffset() == wall.offset


def instants(
    walls: Sequence[Wall], where: Zoning, repeats: frozenset[int] = frozenset()
) -> tuple[list[datetime], list[str]]:
    """One aware instant per row, in the order of the file, and remarks. `repeats`: rows that repeat the one before.

    Raises Held for a clock time that the zone skips (the monitor's clock cannot be trusted then), and when clock
    times without dates fall a second time.
    """
    remarks: list[str] = []
    zone = where.zone
    straight = _one_midnight(walls, zone)
    folds = _folds(straight, zone, remarks, repeats)
    placed = [_placed(wall, zone, fold) for wall, fold in zip(straight, folds, strict=True)]
    differing = [
        wall.row
        for wall, instant in zip(straight, placed, strict=True)
        if wall.offset and isinstance(zone, ZoneInfo) and instant.utcoffset() != wall.offset
    ]
    if differing:
        remarks.append(f"{rows_named(differing)}: the offset in the time is not that of the zone; the offset counts")
    return placed, remarks


def instant(wall: Wall, where: Zoning, remarks: list[str]) -> datetime:
    """Instant of a single time outside the table. In the hour that occurs twice it is the first, which is added to
    the remarks. Raises Held.
    """
    if wall.offset is None and where.zone is None:
        raise Held(HoldReason.TIME_ZONE_UNKNOWN, f"row {wall.row}")
    _folds([wall], where.zone, remarks, frozenset())
    return _placed(wall, where.zone, 0)


def _placed(wall: Wall, zone: ZoneInfo | timezone | None, fold: int) -> datetime:
    if wall.offset is None:
        return wall.local.replace(tzinfo=zone, fold=fold)
    exact = wall.local.replace(tzinfo=fixed(wall.offset))
    return exact.astimezone(zone) if isinstance(zone, ZoneInfo) else exact


def _step(wall: Wall, zone: ZoneInfo | timezone | None) -> timedelta:
    """How far the clocks go back (> 0) or forward (< 0) over this wall-clock time; 0 for an ordinary one."""
    if wall.offset is not None or not isinstance(zone, ZoneInfo):
        return timedelta()
    first = wall.local.replace(tzinfo=zone, fold=0).utcoffset() or timedelta()
    second = wall.local.replace(tzinfo=zone, fold=1).utcoffset() or timedelta()
    return first - second


def _twice(wall: Wall, zone: ZoneInfo | timezone | None) -> bool:
    return _step(wall, zone) > timedelta()


def _one_midnight(walls: Sequence[Wall], zone: ZoneInfo | timezone | None) -> list[Wall]:
    """Times without dates may fall once, at midnight, and once more where the clocks go back."""
    straight: list[Wall] = []
    back, midnights = 0, 0
    for original in walls:
        wall = replace(original, local=original.local - timedelta(days=back)) if back else original
        if wall.turned:
            earlier = one_day_less(wall)
            if straight and _twice(straight[-1], zone) and _twice(earlier, zone):
                back, wall = back + 1, earlier
            else:
                midnights += 1
        if midnights > 1:
            raise Held(HoldReason.TIME_NOT_RISING, f"the clock time falls a second time in row {wall.row}")
        straight.append(wall)
    return straight


def _folds(
    walls: Sequence[Wall], zone: ZoneInfo | timezone | None, remarks: list[str], repeats: frozenset[int]
) -> list[int]:
    """0 or 1 for each row: first or second pass of an hour that occurs twice. The order in the file decides."""
    steps = [_step(wall, zone) for wall in walls]
    skipped = [wall.row for wall, step in zip(walls, steps, strict=True) if step < timedelta()]
    if skipped:
        raise Held(
            HoldReason.TIME_DOUBTFUL, f"{rows_named(skipped)}: the clocks went forward and never showed this time"
        )
    folds = [0] * len(walls)
    run: list[int] = []
    for at, step in enumerate([*steps, timedelta()]):
        if step > timedelta():
            run.append(at)
        elif run:
            for position, fold in zip(run, _passes([walls[i] for i in run], remarks, repeats), strict=True):
                folds[position] = fold
            run = []
    return folds


def _passes(run: Sequence[Wall], remarks: list[str], repeats: frozenset[int]) -> list[int]:
    """0 or 1 for each row of one such hour. Where no time falls, only two equal ones alone are two passes."""
    falls = [i for i in range(1, len(run)) if run[i].local < run[i - 1].local]
    if len(falls) > 1:
        raise Held(HoldReason.TIME_NOT_RISING, f"the clock time falls a second time in row {run[falls[1]].row}")
    if falls:
        return [int(i >= falls[0]) for i in range(len(run))]
    named = f"{rows_named([wall.row for wall in run])}: in the hour that the clocks showed twice"
    if len(run) == 2 and run[0].local == run[1].local and run[1].row not in repeats:
        remarks.append(f"{named}; the equal times, not the order, say that it is once the first and once the second")
        return [0, 1]
    remarks.append(f"{named}; taken as the first")
    return [0] * len(run)

"""Is this recording new, and this person's, beside what was taken in before? Pure; the caller asks the store.

Each doubt names the recording that it is about in its rule (`same-readings-other-person:1a2b3c4d`), so that what a
named person lets pass counts for that pair only.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from gateway.mapping.rules import RepeatRules
from gateway.model import HoldReason, Recording
from gateway.validate.case import Doubt
from gateway.validate.known import Earlier, same_recording
from gateway.validate.likeness import alike
from gateway.validate.words import in_words


@dataclass(frozen=True, slots=True, kw_only=True)
class Before:
    """A recording that was taken in before. `own`: it is the same person's. `marks` as in `likeness`."""

    recording_id: str
    own: bool
    serial: str | None
    began: datetime
    ended: datetime
    instants: frozenset[int]
    marks: tuple[int, ...]
    order: str | None = None

    @property
    def short(self) -> str:
        """As people see its number."""
        return self.recording_id[:8]


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """A recording with its marks beside earlier ones. `expected`: by the list this person (True) or another (False)
    had this monitor; None where the list says nothing.
    """

    recording: Recording
    marks: tuple[int, ...]
    earlier: Sequence[Before]
    expected: bool | None = None

    @property
    def others(self) -> Iterator[Before]:
        """Without the earlier files of this very recording; those are compared as a correction."""
        for each in self.earlier:
            known = Earlier(recording_id=each.recording_id, serial=each.serial, instants=each.instants)
            if not (each.own and same_recording(self.recording, known)):
                yield each

    @property
    def wanted(self) -> bool:
        """It is expected, or an order asks for it that asked for no earlier one."""
        order = self.recording.circumstances.order
        return self.expected is True or (order is not None and order not in {each.order for each in self.others})


def doubts(beside: Beside, rules: RepeatRules) -> tuple[Doubt, ...]:
    """Everything that a person must decide, the gravest first."""
    return (
        *_out_to_other(beside),
        *_same_readings(beside),
        *_monitor_on_other(beside),
        *_person_twice(beside),
        *_again(beside, rules),
    )


def _out_to_other(beside: Beside) -> Iterator[Doubt]:
    """The list of expected recordings names somebody else for this monitor."""
    if beside.expected is False:
        yield Doubt(rule="monitor-out-to-other", reason=HoldReason.MONITOR_OUT_TO_OTHER)


def _same_readings(beside: Beside) -> Iterator[Doubt]:
    """The same values under another person, or of the same person at another time; never filed beside each other."""
    found = [each for each in beside.others if alike(beside.marks, each.marks)]
    for each in sorted(found, key=lambda each: each.own):
        if each.own:
            yield _doubt("same-readings-other-time", HoldReason.READINGS_AT_OTHER_TIME, each)
        else:
            yield _doubt("same-readings-other-person", HoldReason.READINGS_OF_OTHER, each)


def _monitor_on_other(beside: Beside) -> Iterator[Doubt]:
    """One monitor cannot be on two people at once."""
    serial = beside.recording.monitor.serial
    for each in beside.others:
        if not each.own and serial and each.serial == serial and _together(beside.recording, each):
            yield _doubt("monitor-on-other", HoldReason.MONITOR_ON_OTHER, each)


def _person_twice(beside: Beside) -> Iterator[Doubt]:
    """Two recordings of one person that share time but not readings: two monitors, or two people under one name."""
    for each in beside.others:
        if each.own and not alike(beside.marks, each.marks) and _together(beside.recording, each):
            yield _doubt("person-twice-at-once", HoldReason.PERSON_TWICE_AT_ONCE, each)


def _again(beside: Beside, rules: RepeatRules) -> Iterator[Doubt]:
    """Is the last person still in the monitor? A second recording that nobody ordered is the sign of it."""
    if beside.wanted:
        return
    own = [each for each in beside.others if each.own and _another_day(beside, each)]
    near = [each for each in own if rules.within is not None and _apart(beside.recording, each) <= rules.within]
    if near:
        each = min(near, key=lambda each: _apart(beside.recording, each))
        yield _doubt("person-again", HoldReason.PERSON_AGAIN, each, _days(_apart(beside.recording, each)))
    elif rules.same_monitor and (last := _last_on_monitor(beside)) is not None and last in own:
        yield _doubt("person-again", HoldReason.PERSON_AGAIN, last, "this monitor")


def _another_day(beside: Beside, each: Before) -> bool:
    """It is nothing that another doubt is about already."""
    return not _together(beside.recording, each) and not alike(beside.marks, each.marks)


def _last_on_monitor(beside: Beside) -> Before | None:
    serial, began = beside.recording.monitor.serial, beside.recording.began.timestamp()
    before = [each for each in beside.others if serial and each.serial == serial and each.began.timestamp() < began]
    return max(before, key=lambda each: each.began.timestamp(), default=None)


def _together(recording: Recording, each: Before) -> bool:
    """Do they share time? One may begin at the instant at which the other ends."""
    return (
        recording.began.timestamp() < each.ended.timestamp() and each.began.timestamp() < recording.ended.timestamp()
    )


def _apart(recording: Recording, each: Before) -> timedelta:
    """Time between the end of one and the beginning of the other."""
    after = recording.began.timestamp() - each.ended.timestamp()
    before = each.began.timestamp() - recording.ended.timestamp()
    return timedelta(seconds=max(after, before))


def _days(apart: timedelta) -> str:
    return f"{apart.days} days apart" if apart >= timedelta(days=2) else f"{in_words(apart)} apart"


def _doubt(rule: str, reason: HoldReason, each: Before, more: str = "") -> Doubt:
    detail = f"recording {each.short}" + (f", {more}" if more else "")
    return Doubt(rule=f"{rule}:{each.short}", reason=reason, detail=detail)

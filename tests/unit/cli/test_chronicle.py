"""The steps of one recording in plain words."""

from datetime import UTC, datetime
from typing import Any

import pytest

from gateway.cli.chronicle import ACTS, REMARKS, WORDS, chronicle
from gateway.model import Act, Event, EventKind, HoldReason, Remark
from gateway.store import Decision

AT = datetime(2026, 3, 5, 12, 0, tzinfo=UTC)
OF_THE_SERVICE = {EventKind.STARTED, EventKind.STOPPED, EventKind.SETTINGS, EventKind.EXPORTED}


def event(kind: EventKind, actor: str = "service", **detail: Any) -> Event:
    return Event(kind=kind, at=AT, actor=actor, recording="r", detail=detail)


def told(*events: Event, decisions: tuple[Decision, ...] = ()) -> list[str]:
    return [line.removeprefix("2026-03-05 12:00:00 UTC  ") for line in chronicle(events, decisions)]


def decided(**changes: Any) -> Decision:
    values = {
        "verdict": EventKind.RELEASED,
        "rule": "",
        "by": "A. Nurse",
        "why": "seen",
        "at": AT,
        "delivery_id": None,
    }
    return Decision(**{**values, **changes})


def test_every_step_of_a_recording_every_act_and_every_remark_has_words() -> None:
    assert set(EventKind) - set(WORDS) <= OF_THE_SERVICE
    assert set(ACTS) == set(Act) and set(REMARKS) == set(Remark)


@pytest.mark.parametrize("reason", HoldReason)
def test_a_hold_says_its_reason_as_the_nurse_reads_it(reason: HoldReason) -> None:
    (line,) = told(event(EventKind.HELD, reason=reason.value))
    assert line.startswith("it was held: ") and line.endswith(f". [{reason.value}]")


def test_parts_that_follow_each_other_are_one_line() -> None:
    part = event(EventKind.PART_FILED, destination="record", way="put", act="file")
    other = event(EventKind.PART_FILED, destination="archive", way="put", act="file")
    assert told(part, part, other) == [
        "2 parts were written into the record (destination record)",
        "a part was written into the record (destination archive)",
    ]


def test_how_the_person_was_found_and_which_order_it_was_stand_with_the_delivery() -> None:
    done = event(
        EventKind.DELIVERED,
        act="file",
        count=44,
        unchanged=0,
        patient="Patient/7",
        order="ServiceRequest/3",
        remarks=["entry-was-merged", "family-name-differs"],
    )
    assert told(done) == [
        "everything is in the record and was read back (entries 44, entry of the person Patient/7, "
        "order ServiceRequest/3)",
        "  note: the number stood on an entry that was merged into this one",
        "  note: the family name in the record is another one than in the file",
    ]


def test_each_decision_is_told_where_it_was_taken_with_its_reason_and_once() -> None:
    waived = decided(rule="person-again")
    named = decided(at=AT.replace(hour=13), replaced="urn:x|1", given="2")
    lines = told(
        event(EventKind.RELEASED, "A. Nurse"),
        event(EventKind.RELEASED, "B. Nurse"),
        Event(kind=EventKind.RELEASED, at=AT.replace(hour=13), actor="A. Nurse", recording="r", detail={}),
        decisions=(waived, named),
    )
    assert lines == [
        "A. Nurse released it, letting 'person-again' pass: seen",
        "B. Nurse released it",
        "2026-03-05 13:00:00 UTC  A. Nurse replaced 1 by 2: seen",
    ]


def test_a_withdrawal_is_no_filing() -> None:
    assert told(
        event(EventKind.SENDING, act="withdraw", attempt=1),
        event(EventKind.DELIVERED, act="withdraw", count=3),
        event(EventKind.POSTPONED, act="withdraw", why="nobody answers"),
    ) == [
        "withdrawing began (attempt 1)",
        "everything that was filed is withdrawn, and was read back (entries 3)",
        "withdrawing was not possible now and will be tried again (because nobody answers)",
    ]

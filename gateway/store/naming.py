"""Whose recording it is by a named person's word, where the file names the wrong person."""

import json
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, Row, delete, insert, select, update

from gateway.model import DeliveryState, Event, EventKind, Identifier, Person, RecordingState
from gateway.store.database import Part
from gateway.store.rows import keyed_hash
from gateway.store.standing import is_finished, is_withdrawn
from gateway.store.tables import contents, decisions, deliveries, recordings
from gateway.store.trail import append
from gateway.store.undoing import FREED, cancel, in_record
from gateway.store.views import Decided, NotPossible

_R, _D = recordings.c, deliveries.c
_IN_RECORD = NotPossible("Part of it is in a record already, or may be: withdraw it there, and file it again.")


class Naming(Part):
    """The store's side of putting the person right before anything is filed."""

    def rename(self, target: str, given: Person, by: str, why: str, now: datetime) -> Decided | NotPossible:
        """Let a held recording, one with a held delivery, or one that every record has given back after it was
        withdrawn, be worked on again as `given`'s. Nothing is waived, and
        what was waived before counts no more. Both numbers stand with the decision; the audit trail has them keyed.
        """
        with self._database.writing() as connection:
            row = _recording(connection, target)
            if row is None or given.identifier is None:
                return NotPossible("There is no recording or delivery with this number.")
            back = is_withdrawn(connection, row.key) and is_finished(connection, row.key)
            if row.state is not RecordingState.HELD and not back and not _held_delivery(connection, row.id):
                return NotPossible(f"Nothing of this recording is held; it is {row.state}.")
            if in_record(connection, _D.recording_id == row.id, row.key):
                return _IN_RECORD
            old = _old_number(connection, row)
            if old is None:
                return NotPossible("The file could not be read, so there is no person to put right in it.")
            if old == given.identifier and given.birth_date is None:
                return NotPossible("This is the number that it bears already.")
            _work_again(connection, row, now)
            self._note_given(connection, row.id, old, given, by, why, now)
        return Decided(row.id)

    def _note_given(
        self,
        connection: Connection,
        recording_id: str,
        old: Identifier,
        given: Person,
        by: str,
        why: str,
        now: datetime,
    ) -> None:
        key, new = self._database.key, _number(given.identifier)
        connection.execute(
            insert(decisions).values(
                recording_id=recording_id,
                verdict=EventKind.RELEASED,
                rule="",
                by=by,
                why=why,
                at=now,
                replaced=_number(old),
                given=_text(given),
            )
        )
        detail: dict[str, object] = {
            "rule": "",
            "why": keyed_hash(key, why),
            "old_number": keyed_hash(key, _number(old)),
            "new_number": keyed_hash(key, new),
        }
        append(connection, [Event(kind=EventKind.RELEASED, at=now, actor=by, recording=recording_id, detail=detail)])


def given_of(connection: Connection, recording_id: str) -> Person | None:
    """Whose it is by the last word of a named person; None where nobody said."""
    d = decisions.c
    text = connection.execute(
        select(d.given).where(d.recording_id == recording_id, d.given.is_not(None)).order_by(d.number.desc()).limit(1)
    ).scalar_one_or_none()
    return _person(json.loads(text)) if text else None


def new_number(given: str | None) -> str | None:
    """The number of a stored `given`, for people to see; None without one."""
    return str(json.loads(given)["number"]) if given else None


def _recording(connection: Connection, target: str) -> Row[Any] | None:
    of_delivery = select(_D.recording_id).where(_D.id == target)
    return connection.execute(select(recordings).where((_R.id == target) | _R.id.in_(of_delivery))).one_or_none()


def _held_delivery(connection: Connection, recording_id: str) -> bool:
    held = select(_D.id).where(_D.recording_id == recording_id, _D.state == DeliveryState.HELD).limit(1)
    return connection.execute(held).first() is not None


def _old_number(connection: Connection, row: Row[Any]) -> Identifier | None:
    """The number that it bears now; an empty one where the file names none. None where the file was not read."""
    if (before := given_of(connection, row.id)) is not None:
        return before.identifier
    read = (json.loads(row.facts) if row.facts else {}).get("recording")
    if not read:
        return None
    return Identifier(read.get("identifier_system") or "", read.get("identifier") or "")


def _work_again(connection: Connection, row: Row[Any], now: datetime) -> None:
    """As if it came in now; what was composed for the other person is not sent."""
    cancel(connection, _D.recording_id == row.id, now)
    cancelled = select(_D.id).where(_D.recording_id == row.id, _D.state == DeliveryState.CANCELLED)
    connection.execute(delete(contents).where(contents.c.delivery_id.in_(cancelled)))
    values = {**FREED, "state": RecordingState.RECEIVED, "fence": row.fence + 1, "changed_at": now}
    connection.execute(update(recordings).where(_R.id == row.id).values(values))


def _number(identifier: Identifier | None) -> str:
    return f"{identifier.system}|{identifier.value}" if identifier else ""


def _text(person: Person) -> str:
    number, born = person.identifier, person.birth_date
    return json.dumps(
        {
            "system": number.system if number else "",
            "number": number.value if number else "",
            "birth_date": born.isoformat() if born else None,
            "family_name": person.family_name,
            "given_name": person.given_name,
        }
    )


def _person(found: dict[str, Any]) -> Person:
    return Person(
        identifier=Identifier(found["system"], found["number"]),
        birth_date=date.fromisoformat(found["birth_date"]) if found["birth_date"] else None,
        family_name=found["family_name"],
        given_name=found["given_name"],
    )

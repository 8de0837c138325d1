"""The list of expected recordings: who has which monitor from when, so that the last person in it is noticed."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Row, delete, func, insert, select

from gateway.model import Event, EventKind
from gateway.store.database import Part
from gateway.store.rows import keyed_hash
from gateway.store.tables import expected
from gateway.store.trail import append
from gateway.store.values import Expected, NewExpected

_E = expected.c


class Expectations(Part):
    """The store's side of the list."""

    def expect(self, entries: Sequence[NewExpected], by: str, now: datetime) -> None:
        """Put entries on the list, all or none; one that stands there already stays as it is."""
        key = self._database.key
        with self._database.writing() as connection:
            for new in entries:
                same = (_E.serial == new.serial, _E.person_key == new.person_key, _E.begins == new.begins)
                if connection.execute(select(_E.number).where(*same)).first() is not None:
                    continue
                connection.execute(
                    insert(expected).values(
                        serial=new.serial,
                        person_key=new.person_key,
                        person=new.person,
                        begins=new.begins,
                        ends=new.ends,
                        by=by,
                        at=now,
                    )
                )
                append(connection, [_event("added", keyed_hash(key, new.serial), new.person_key, by, now)])

    def expected(self) -> tuple[Expected, ...]:
        """The whole list, by beginning."""
        with self._database.reading() as connection:
            rows = connection.execute(select(expected).order_by(_E.begins, _E.number)).all()
        return tuple(_entry(row) for row in rows)

    def expect_no_more(self, number: int, by: str, now: datetime) -> bool:
        """Take an entry off the list; False where there is none of this number."""
        with self._database.writing() as connection:
            row = connection.execute(select(expected).where(_E.number == number)).one_or_none()
            if row is None:
                return False
            connection.execute(delete(expected).where(_E.number == number))
            serial = keyed_hash(self._database.key, row.serial)
            append(connection, [_event("removed", serial, row.person_key, by, now)])
        return True

    def out_to(self, serial: str, when: datetime) -> Expected | None:
        """Who had this monitor then by the list: the entry that began last, unless it has ended; None for nobody.

        Serial numbers are compared without regard to case, as people type them.
        """
        with self._database.reading() as connection:
            row = connection.execute(
                select(expected)
                .where(func.lower(_E.serial) == serial.strip().lower(), _E.begins <= when)
                .order_by(_E.begins.desc(), _E.number.desc())
                .limit(1)
            ).one_or_none()
        return _entry(row) if row is not None and (row.ends is None or row.ends > when) else None


def _entry(row: Row[Any]) -> Expected:
    return Expected(
        number=row.number,
        serial=row.serial,
        person_key=row.person_key,
        person=row.person,
        begins=row.begins,
        ends=row.ends,
        by=row.by,
    )


def _event(what: str, serial: str, person_key: str, by: str, now: datetime) -> Event:
    detail: dict[str, object] = {"expected": what, "monitor": serial, "person": person_key}
    return Event(kind=EventKind.SETTINGS, at=now, actor=by, detail=detail)

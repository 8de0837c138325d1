"""Any recording, written in each layout by an independent writer, is read back equal."""

import os
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from gateway.mapping.site import SiteDefaults
from gateway.mapping.source import SourceMap
from gateway.model import (
    Arm,
    Circumstances,
    Diary,
    DiaryNote,
    Identifier,
    Interval,
    Kind,
    Monitor,
    NoteKind,
    Outcome,
    Person,
    Reading,
    Recording,
    Schedule,
    Sex,
    Source,
    Tenths,
)
from gateway.read import read
from tests.generative import writers
from tests.unit.read.told import shipped

EXAMPLES = int(os.environ.get("READ_EXAMPLES", "40"))
SOURCE = Source(map_name="", map_version="", encoding="", sha256="", zone_origin="")
FAILURES = ("moved", "leaked", "too weak", "stopped")
letters = st.characters(whitelist_categories=("Lu", "Ll", "Lo"), max_codepoint=0x24F)
words = st.text(letters | st.sampled_from(" ,;\"'.-1"), min_size=1, max_size=12).map(
    lambda text: "w" + " ".join(text.split())
)
maybe_words = st.none() | words
maybe = st.none() | st.booleans()
zones = st.sampled_from(
    ["Europe/London", "Europe/Berlin", "America/St_Johns", "Australia/Lord_Howe", "Asia/Kathmandu", "UTC"]
)


def tenths(low: int, high: int) -> st.SearchStrategy[Tenths | None]:
    """Values that the shipped maps do not declare to be a mark."""
    return st.none() | st.integers(low, high).filter(lambda n: n not in (2550, 9990)).map(Tenths)


# some hours before clocks went back in one of the zones (IANA database), so that doubled hours come up often
BEFORE_CHANGES = (
    datetime(2026, 10, 24, 18, 0, tzinfo=UTC),
    datetime(2026, 10, 31, 22, 0, tzinfo=UTC),
    datetime(2026, 4, 4, 9, 0, tzinfo=UTC),
)
starts = st.datetimes(datetime(2020, 1, 1), datetime(2035, 1, 1)).map(lambda day: day.replace(tzinfo=UTC)) | (  # noqa: DTZ001
    st.builds(
        lambda day, hours: day + timedelta(minutes=15 * hours), st.sampled_from(BEFORE_CHANGES), st.integers(0, 40)
    )
)


@st.composite
def attempts(draw: st.DrawFn, zone: ZoneInfo) -> tuple[Reading, ...]:
    """Attempts in real time, so that the hour that occurs twice is passed as a clock passes it."""
    instant = draw(starts).replace(second=0, microsecond=0)
    found: list[Reading] = []
    for step in draw(st.lists(st.sampled_from([3, 15, 20, 30]), min_size=1, max_size=40)):
        instant += timedelta(minutes=step)
        found.append(draw(attempt(instant.astimezone(zone))))
    assume(decidable(found))
    return tuple(found)


def decidable(found: list[Reading]) -> bool:
    """A doubled hour of which only the second pass was seen, or whose turn the clock on the wall does not show, does
    not tell so. Two equal times show it when they are all there is.
    """
    run = [each for each in found if twice(each.at)]
    turns = [i for i in range(1, len(run)) if run[i].at.fold > run[i - 1].at.fold]
    if not turns:
        return not any(each.at.fold for each in run)
    before, after = (run[turns[0] + side].at.replace(tzinfo=None) for side in (-1, 0))
    return after < before or (after == before and len(run) == 2 and run[1].kind is not Kind.REPEAT)


def twice(at: datetime) -> bool:
    """Does the clock on the wall show this time two times?"""
    return at.replace(fold=0).utcoffset() != at.replace(fold=1).utcoffset()


@st.composite
def attempt(draw: st.DrawFn, at: datetime) -> Reading:
    kind, irregular, note = draw(st.sampled_from(Kind)), draw(maybe), draw(maybe_words)
    systolic, diastolic = draw(tenths(600, 2500)), draw(tenths(300, 1500))
    if systolic is None and diastolic is None:
        word = draw(st.sampled_from(FAILURES))
        return Reading(row=0, at=at, outcome=Outcome.FAILED, failure=word, kind=kind, irregular=irregular, note=note)
    return Reading(
        row=0,
        at=at,
        outcome=Outcome.MEASURED,
        systolic=systolic,
        diastolic=diastolic,
        mean=draw(tenths(400, 1900)),
        heart_rate=draw(tenths(300, 2000)),
        kind=kind,
        irregular=irregular,
        note=note,
    )


def unambiguous(instant: datetime, zone: ZoneInfo) -> datetime:
    """A full hour away from any clock change: a diary has no order that could tell two hours apart."""
    local = instant.astimezone(zone)
    while local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset():
        local = (local.astimezone(UTC) + timedelta(hours=1)).astimezone(zone)
    return local.replace(fold=0)


@st.composite
def entries(draw: st.DrawFn, begin: datetime, zone: ZoneInfo) -> tuple[DiaryNote, ...]:
    """Entries of the diary in order of time, not two at once."""
    hours = sorted(draw(st.sets(st.integers(0, 20), max_size=4)))
    moments = sorted({unambiguous(begin + timedelta(hours=hour), zone) for hour in hours}, key=datetime.timestamp)
    return tuple(DiaryNote(at, draw(st.sampled_from(NoteKind)), draw(words)) for at in moments)


@st.composite
def recordings(draw: st.DrawFn) -> Recording:
    zone = ZoneInfo(draw(zones))
    readings = draw(attempts(zone))
    begin = readings[0].at.astimezone(UTC)
    bounds = sorted(draw(st.sets(st.integers(1, 24), max_size=4)))
    spans = tuple(
        Interval(unambiguous(begin + timedelta(hours=3 * a), zone), unambiguous(begin + timedelta(hours=3 * b), zone))
        for a, b in zip(bounds[::2], bounds[1::2], strict=False)
    )
    clock = st.none() | st.integers(0, 95).map(lambda quarter: time(quarter // 4, quarter % 4 * 15))
    count = st.none() | st.integers(1, 90)
    moment = st.none() | st.integers(0, 40).map(lambda hours: unambiguous(begin + timedelta(hours=hours), zone))
    return Recording(
        person=Person(
            identifier=Identifier(
                "urn:example:" + draw(st.from_regex(r"[a-z]{1,8}", fullmatch=True)),
                draw(st.from_regex(r"[A-W][0-9]{2,8}[1-9]", fullmatch=True)),  # X and zeros are filler
            ),
            family_name=draw(maybe_words),
            given_name=draw(maybe_words),
            birth_date=draw(st.none() | st.dates(date(1900, 1, 1), date(2025, 1, 1))),
            sex=draw(st.none() | st.sampled_from(Sex)),
        ),
        monitor=Monitor(
            model=draw(maybe_words),
            serial=draw(maybe_words),
            cuff_size=draw(maybe_words),
            arm_circumference=draw(st.none() | st.integers(100, 600).map(lambda n: n / 10)),
            arm=draw(st.none() | st.sampled_from(Arm)),
        ),
        schedule=Schedule(
            interval_day=draw(count),
            interval_night=draw(count),
            day_from=draw(clock),
            night_from=draw(clock),
            planned=draw(count),
            fitted_at=draw(moment),
            removed_at=draw(moment),
        ),
        circumstances=Circumstances(
            order=draw(maybe_words),
            indication=draw(maybe_words),
            treated=draw(maybe),
            pregnancy_weeks=draw(count),
            irregular_pulse=draw(maybe),
            clinic_systolic=draw(tenths(600, 2500)),
            clinic_diastolic=draw(tenths(300, 1500)),
        ),
        diary=Diary(asleep=spans, notes=draw(entries(begin, zone))),
        readings=readings,
        source=SOURCE,
        site=draw(maybe_words),
        zone=zone.key,
    )


def bare(recording: Recording) -> Recording:
    """Without what differs between layouts: rows, raw cells, the source, facts of one layout only."""
    readings = tuple(replace(each, row=0, raw=()) for each in recording.readings)
    return replace(recording, readings=readings, source=SOURCE, facts=())


def offsets(recording: Recording) -> list[str]:
    """Equality of zoned datetimes ignores the pass of the doubled hour; their text does not."""
    return [each.at.isoformat() for each in recording.readings]


def remade(form: dict[str, object]) -> tuple[SourceMap, ...]:
    """The neutral map for another outer form."""
    (neutral,) = shipped("plain")
    return (SourceMap.model_validate({**neutral.model_dump(exclude_none=True), "format": form}),)


def moved(node: Any, fact: str, column: str) -> Any:
    """The same map with every fact and column at a path."""
    if isinstance(node, list | tuple):
        return [moved(each, fact, column) for each in node]
    if not isinstance(node, dict):
        return node
    ways = {"fact": fact, "column": column}
    return {
        key: ways[key] + value if key in ways and isinstance(value, str) else moved(value, fact, column)
        for key, value in node.items()
    }


def noted(diary: dict[str, Any], **places: Any) -> dict[str, Any]:
    """The diary of the neutral map with its entries at other places."""
    kinds = {kind.value: kind.value for kind in NoteKind}
    at = {"how": "instant", "pattern": "iso", **places["at"]}
    entry = {"at": at, "kind": {"codes": kinds, **places["kind"]}, "text": places["text"]}
    where = {"tables": [{"header": ["when", "about", "said"], **entry}]} if "column" in at else {"notes": [entry]}
    return {"asleep": diary["asleep"], **where}


IN_A_TABLE = {"at": {"column": "when"}, "kind": {"column": "about"}, "text": {"column": "said"}}


def with_table(form: dict[str, object]) -> tuple[SourceMap, ...]:
    """The neutral map with the diary in a table of its own."""
    (neutral,) = shipped("plain")
    plain = neutral.model_dump(exclude_none=True)
    diary = noted(plain["diary"], **IN_A_TABLE)
    return (SourceMap.model_validate({**plain, "format": {"decimal": ".", **form}, "diary": diary}),)


def at_paths(form: dict[str, object], fact: str, column: str) -> tuple[SourceMap, ...]:
    (neutral,) = shipped("plain")
    plain = moved(neutral.model_dump(exclude_none=True), fact, column)
    sign, text = ("@", "entry") if column else ("", f"{fact}entry/said")
    here = f"{fact}entry/{sign}"
    plain["diary"] = noted(
        plain["diary"], at={"fact": f"{here}at"}, kind={"fact": f"{here}kind"}, text={"fact": text}
    )
    signs = {"columns": [f"{column}time"]}
    return (SourceMap.model_validate({**plain, "signs": signs, "format": form}),)


LAYOUTS = {
    "plain": shipped(),
    "fenmarch": shipped(),
    "tables": with_table({"kind": "delimited", "delimiter": ",", "facts_again": ["once more"]}),
    "fixed": with_table({"kind": "fixed-width", "cuts": list(range(1, 164, 18)), "fact_separator": "="}),
    "xlsx": remade({"kind": "workbook"}),
    "ods": remade({"kind": "workbook"}),
    "xml": at_paths({"kind": "xml", "rows": "rows/row"}, "", "@"),
    "jsonfile": at_paths({"kind": "json", "rows": "rows"}, "facts/", ""),
}


@pytest.mark.parametrize("layout", LAYOUTS)
@settings(max_examples=EXAMPLES, deadline=None)
@given(recording=recordings())
def test_a_recording_is_read_back_equal(layout: str, recording: Recording) -> None:
    content = getattr(writers, layout)(recording)
    found = read(content, "export.txt", LAYOUTS[layout], SiteDefaults(zone=recording.zone))
    assert isinstance(found, Recording), found
    assert offsets(found) == offsets(recording)
    assert bare(found) == bare(recording)


def as_standards_tell(recording: Recording, system: str, failure: str, order: str | None) -> Recording:
    """What ORU^R01 and Observations have a place for."""
    zone = ZoneInfo(recording.zone or "UTC")
    readings = tuple(
        replace(
            each,
            kind=Kind.SCHEDULED,
            irregular=None,
            note=None,
            at=each.at.astimezone(UTC).astimezone(zone),
            failure=failure if each.outcome is Outcome.FAILED else None,
        )
        for each in recording.readings
    )
    assert recording.person.identifier is not None
    number = Identifier(system or recording.person.identifier.system, recording.person.identifier.value)
    return replace(
        recording,
        person=replace(recording.person, identifier=number),
        monitor=Monitor(),
        schedule=Schedule(),
        circumstances=Circumstances(order=order),
        diary=Diary(),
        readings=readings,
        site=None,
    )


@settings(max_examples=EXAMPLES, deadline=None)
@given(recording=recordings())
def test_a_recording_in_messages_is_read_back_equal(recording: Recording) -> None:
    site = SiteDefaults(zone=recording.zone, identifier_system="urn:example:site")
    found = read(writers.hl7(recording), "export.hl7", shipped(), site)
    assert isinstance(found, Recording), found
    assert bare(found) == bare(as_standards_tell(recording, "urn:example:site", "X", recording.circumstances.order))
    assert offsets(found) == offsets(recording)


@settings(max_examples=EXAMPLES, deadline=None)
@given(recording=recordings())
def test_a_recording_in_a_bundle_is_read_back_equal(recording: Recording) -> None:
    assume(any(each.outcome is Outcome.MEASURED for each in recording.readings))  # else nothing states a unit
    found = read(writers.fhir(recording), "export.json", shipped(), SiteDefaults(zone=recording.zone))
    assert isinstance(found, Recording), found
    assert bare(found) == bare(as_standards_tell(recording, "", "error", None))
    assert offsets(found) == offsets(recording)

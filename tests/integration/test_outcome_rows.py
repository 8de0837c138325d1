"""Every row of the table of outcomes, played by a real server at a real socket: for a whole answer, for an entry of a
bundle, for each way in which no answer comes, and for each good status that says too little.

What is expected stands here as a table of its own, so that a slip in the program's table shows.
"""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from gateway.deliver.outcome import SILENCES, TABLE, Shape
from gateway.deliver.silence import Silence
from gateway.model import Answer, Delivered, HoldReason, Rejected, TryLater
from tests.integration.conftest import BATCHES, NO_TAG, SINGLES, WAYS, Story, Tell
from tests.integration.proxy import (
    BATCH,
    CONDITIONAL,
    UPDATE_CREATE,
    Fault,
    changed,
    drop_after,
    entry_fails,
    half_after,
    say,
    say_raw,
    slow_after,
)

pytestmark = pytest.mark.service
ALL = WAYS | BATCHES | SINGLES | NO_TAG
BUNDLED = {name: poor for name, poor in ALL.items() if name not in SINGLES and name != "search-first, no _tag"}
REFUSED, CONFLICT, UNSUITABLE = (
    HoldReason.RECORD_REFUSED,
    HoldReason.RECORD_CONFLICT,
    HoldReason.RECORD_UNSUITABLE,
)

EXPECTED: dict[int, HoldReason | str] = {
    **dict.fromkeys((200, 201, 202, 204, 206), "unknown"),  # a good status without an answer inside
    **dict.fromkeys((300, 301, 302, 303, 304, 307, 308), UNSUITABLE),
    **dict.fromkeys((400, 403, 404, 415, 422), REFUSED),
    401: "later",
    **dict.fromkeys((405, 406, 501, 505), UNSUITABLE),
    **dict.fromkeys((408, 500, 502, 503, 504, 507), "unknown"),
    **dict.fromkeys((409, 412), "asked"),
    410: CONFLICT,
    413: "smaller",
    **dict.fromkeys((425, 429), "later"),
    **dict.fromkeys((402, 418, 423, 431, 451, 508, 511, 599), REFUSED),  # in no row: its own words decide
}
"""later; unknown: later, and ask first; asked: find out what is there, then send the rest; smaller: smaller parts"""
ONE_OF_EACH = (204, 302, 401, 429, 503, 412, 422)
LESS_USUAL = (429, 503, 422)
"""what is played where a way of writing differs only in how much one request carries, or in how it is searched"""


@pytest.fixture(params=ALL.values(), ids=ALL.keys())
def poor(request: pytest.FixtureRequest) -> frozenset[str]:
    return request.param


def at_a_write(poor: frozenset[str]) -> dict[str, Any]:
    """The bundle after the one that holds the device; one at a time: the first reading."""
    if BATCH not in poor:
        return {"method": "POST", "path": r"/fhir/?$", "skip": 1}
    return {"method": "PUT" if UPDATE_CREATE not in poor else "POST", "path": r"/fhir/Observation(/[0-9a-f-]+)?$"}


def saying(status: int) -> Any:
    """RFC 9110, 6.4.1: 204 and 304 have no content; with some, the next answer could not be told from it."""
    return say_raw(status, b"") if status in (204, 304) else say(status)


def assert_as_expected(answer: Answer, expected: HoldReason | str) -> None:
    if isinstance(expected, HoldReason):
        assert isinstance(answer, Rejected)
        assert answer.hold.reason is expected
        assert not answer.outcome_unknown
    elif expected in ("asked", "smaller"):
        assert isinstance(answer, Delivered)
    else:
        assert isinstance(answer, TryLater)
        assert answer.outcome_unknown == (expected == "unknown")
        assert not answer.unreachable


def then_all_is_well(story: Story) -> None:
    """When the fault is over (and a person let it go on), the recording is there, once."""
    assert isinstance(story.file(), Delivered)
    story.assert_there_once()


def test_every_status_of_the_table_is_expected_here() -> None:
    listed = {status for row in TABLE for status in row.statuses}
    assert {status for status in listed if status >= 400} <= EXPECTED.keys()
    assert set(ONE_OF_EACH) <= EXPECTED.keys()


# a whole answer


@pytest.mark.parametrize("status", EXPECTED)
def test_a_status(tell: Tell, status: int) -> None:
    story = tell(WAYS["put"])
    story.proxy.faults.append(Fault(saying(status), **at_a_write(WAYS["put"])))
    assert_as_expected(story.file(), EXPECTED[status])
    then_all_is_well(story)


@pytest.mark.parametrize(
    ("status", "way"),
    [(status, way) for way in ALL for status in (ONE_OF_EACH if way in WAYS else (412, *LESS_USUAL))],
)
def test_a_row_in_every_way_of_writing(tell: Tell, status: int, way: str) -> None:
    poor = ALL[way]
    story = tell(poor)
    story.proxy.faults.append(Fault(saying(status), **at_a_write(poor)))
    expected = EXPECTED[status]
    if status == 204 and BATCH in poor and UPDATE_CREATE not in poor:
        expected = "unknown"  # a PUT names the place itself, but 204 is no answer to a write
    assert_as_expected(story.file(), expected)
    then_all_is_well(story)


@pytest.mark.parametrize(("status", "stored"), [(409, True), (412, False)], ids=["somebody was faster", "nobody was"])
def test_a_conflict_is_asked_about_and_only_then_a_person_is(
    tell: Tell, poor: frozenset[str], status: int, stored: bool
) -> None:
    def play(seen: Any, ask: Callable[[Any], Any]) -> Any:
        if stored:
            ask(seen)
        return say(status, "number of Zztestname is odd")(seen, ask)

    story = tell(poor)
    story.proxy.faults.append(Fault(play, **at_a_write(poor), times=1 if stored else 2))
    answer = story.file()
    if stored:
        assert isinstance(answer, Delivered)
    else:
        assert isinstance(answer, Rejected)
        assert answer.hold.reason is CONFLICT
        assert "number of [person] is odd" in answer.answer
        assert isinstance(story.file(), Delivered)
    story.assert_there_once()


DATE = "Thu, 05 Mar 2099 12:02:00 GMT"


@pytest.mark.parametrize(("form", "way"), [("20", way) for way in ALL] + [(DATE, way) for way in WAYS])
def test_the_wish_of_the_server_is_kept(tell: Tell, form: str, way: str) -> None:
    """RFC 9110, 10.2.3: Retry-After in seconds or as a date."""
    poor = ALL[way]
    status = 429 if form == "20" else 503
    story = tell(poor)
    story.proxy.faults.append(Fault(say(status, Retry_After=form), **at_a_write(poor)))
    answer = story.file()
    assert isinstance(answer, TryLater)
    assert answer.after is not None
    assert answer.after >= (timedelta(seconds=20) if form == "20" else timedelta(days=700))
    then_all_is_well(story)


@pytest.mark.parametrize(
    "content", [b"<html>Bad gateway</html>", b"", b"{", b"[1]"], ids=["html", "empty", "cut", "list"]
)
@pytest.mark.parametrize("status", [422, 502])
def test_a_failure_without_words_is_no_obstacle(tell: Tell, status: int, content: bytes) -> None:
    story = tell(WAYS["put"])
    story.proxy.faults.append(Fault(say_raw(status, content), **at_a_write(WAYS["put"])))
    answer = story.file()
    assert_as_expected(answer, EXPECTED[status])
    assert f"the server answered {status}" in (answer.answer if isinstance(answer, Rejected) else answer.why)  # type: ignore[union-attr]
    then_all_is_well(story)


# an entry of a bundle


@pytest.mark.parametrize(
    ("status", "way"), [(status, way) for way in BUNDLED for status in (ONE_OF_EACH if way in WAYS else LESS_USUAL)]
)
def test_a_row_inside_a_good_answer(tell: Tell, status: int, way: str) -> None:
    """The last entry failed, the others were done: those are kept, and only that one is sent again."""
    bundled = BUNDLED[way]
    story = tell(bundled)
    unknown = EXPECTED[status] == "unknown"
    story.proxy.faults.append(Fault(entry_fails((-1, status), stored=unknown), **at_a_write(bundled)))
    assert_as_expected(story.file(), EXPECTED[status])
    then_all_is_well(story)


def test_two_failures_of_seventy_are_named_and_only_those_sent_again(tell: Tell) -> None:
    """A batch of 70 readings answers 200; entries 7 and 31 were refused."""
    story = tell(BATCHES["put, batch only"], readings=70)
    story.proxy.faults.append(Fault(entry_fails((7, 422), (31, 400)), **at_a_write(BATCHES["put, batch only"])))
    answer = story.file()
    assert isinstance(answer, Rejected)
    assert "as the test wants it: 422" in answer.answer
    assert "as the test wants it: 400" in answer.answer
    sent = len(story.proxy.posts())
    then_all_is_well(story)
    assert len(story.proxy.posts()[sent].body["entry"]) == 2


@pytest.mark.parametrize("way", WAYS)
def test_a_refused_entry_does_not_hide_that_another_may_be_stored(tell: Tell, way: str) -> None:
    story = tell(WAYS[way])
    story.proxy.faults.append(Fault(entry_fails((-1, 503), stored=True, outcome=None), **at_a_write(WAYS[way])))
    assert_as_expected(story.file(), "unknown")
    then_all_is_well(story)


@pytest.mark.parametrize("limit", [25, 100])
def test_a_server_that_takes_few_entries_gets_few(tell: Tell, limit: int) -> None:
    story = tell(WAYS["put"], readings=96, most_entries=500)
    story.proxy.most_entries = limit
    assert isinstance(story.file(), Delivered)
    story.assert_there_once()
    taken = [len(seen.body["entry"]) for seen in story.proxy.posts()]
    assert sum(size for size in taken if size <= limit) == 100


# no answer


def endless(seen: Any, ask: Callable[[Any], Any]) -> Any:
    ask(seen)
    return say_raw(200, b"[" * 34_000_000, "application/fhir+json")(seen, ask)


SILENT: dict[Silence, Any] = {
    Silence.BROKEN: drop_after,
    Silence.TOO_LATE: slow_after(6),
    Silence.TOO_LARGE: endless,
}


def test_every_silence_is_played() -> None:
    """Those of TLS stand in `test_deliver_tls` and `test_deliver_mutual`."""
    assert SILENT.keys() | {Silence.UNREACHABLE, Silence.UNTRUSTED, Silence.OURS} == SILENCES.keys()


@pytest.mark.parametrize(
    ("silence", "way"),
    [(silence, way) for silence in SILENT for way in ALL if silence is Silence.BROKEN or way in WAYS],
)
def test_no_answer(tell: Tell, silence: Silence, way: str) -> None:
    story = tell(ALL[way], read_timeout=4.0 if silence is Silence.TOO_LATE else 60.0)
    story.proxy.faults.append(Fault(SILENT[silence], **at_a_write(ALL[way])))
    answer = story.file()
    assert_as_expected(answer, "unknown")
    assert isinstance(answer, TryLater)
    assert answer.why == SILENCES[silence]
    story.server = story.new_server(read_timeout=60.0)
    then_all_is_well(story)


def test_half_an_answer(tell: Tell, poor: frozenset[str]) -> None:
    story = tell(poor)
    story.proxy.faults.append(Fault(half_after, **at_a_write(poor)))
    answer = story.file()
    assert_as_expected(answer, "unknown")
    then_all_is_well(story)


@pytest.mark.parametrize("way", WAYS)
def test_a_server_that_is_gone_in_the_middle(tell: Tell, way: str) -> None:
    """What was written before it went is known, and not written again."""
    story = tell(WAYS[way])
    story.proxy.faults.append(Fault(say(503), **at_a_write(WAYS[way])))
    story.file()
    story.server = story.new_server(url="http://127.0.0.1:1/fhir")
    assert story.file() == TryLater(why=SILENCES[Silence.UNREACHABLE], unreachable=True)
    story.uncertain = True  # as the store keeps it: the doubt of the attempt before is not settled
    story.server = story.new_server()
    then_all_is_well(story)


# a good status that says too little


def without(*keys: str) -> Callable[[Any], Any]:
    """The last entry lacks these elements of its response."""

    def change(body: Any) -> Any:
        response = body["entry"][-1]["response"]
        body["entry"][-1] = {"response": {key: value for key, value in response.items() if key not in keys}}
        return body

    return change


def odd_status(body: Any) -> Any:
    body["entry"][-1]["response"]["status"] = "202 Accepted"
    return body


SHAPES: dict[str, tuple[Shape, Callable[[Any], Any]]] = {
    "an OperationOutcome": (Shape.NOT_FHIR, lambda body: {"resourceType": "OperationOutcome"}),
    "a searchset": (Shape.NOT_FHIR, lambda body: {**body, "type": "searchset"}),
    "another shape": (Shape.NOT_FHIR, lambda body: [body]),
    "fewer entries": (Shape.FEWER, lambda body: {**body, "entry": body["entry"][:-1]}),
    "more entries": (Shape.FEWER, lambda body: {**body, "entry": [*body["entry"], body["entry"][0]]}),
    "no entries": (Shape.FEWER, lambda body: {**body, "entry": []}),
    "no status": (Shape.NO_STATUS, without("status")),
    "no response": (Shape.NO_STATUS, lambda body: {**body, "entry": [{} for _ in body["entry"]]}),
    "another status": (Shape.OTHER_STATUS, odd_status),
    "no place": (Shape.NO_PLACE, without("location")),
}


def test_every_shape_is_played() -> None:
    assert {shape for shape, _ in SHAPES.values()} == set(Shape)


EVERYWHERE = ("a searchset", "fewer entries", "no status", "another status", "no place")
CASES = [(name, way) for name in SHAPES for way in WAYS if way == "conditional" or name in EVERYWHERE]
CASES += [(name, "conditional, batch only") for name in EVERYWHERE]


@pytest.mark.parametrize(("name", "way"), CASES)
def test_a_good_status_that_says_too_little(tell: Tell, way: str, name: str) -> None:
    bundled = BUNDLED[way]
    story = tell(bundled)
    shape, change = SHAPES[name]
    story.proxy.faults.append(Fault(changed(change), **at_a_write(bundled)))
    answer = story.file()
    if shape is Shape.NO_PLACE and UPDATE_CREATE not in bundled:
        assert isinstance(answer, Delivered), "a PUT names the place itself; the read-back proves it"
        return
    assert_as_expected(answer, "unknown")
    assert isinstance(answer, TryLater)
    assert answer.why == shape.value
    then_all_is_well(story)


RAW = {
    "html": (200, b"<html>Sign in</html>", "text/html"),
    "xml": (200, b'<Bundle xmlns="http://hl7.org/fhir"/>', "application/fhir+xml"),
    "empty 200": (200, b"", "application/fhir+json"),
    "empty 201": (201, b"", "application/fhir+json"),
    "cut off": (200, b'{"resourceType":"Bundle"', "application/fhir+json"),
    "too deep": (200, b"[" * 100_000, "application/fhir+json"),
    "no text": (200, b"\xff\xfe\x00", "application/octet-stream"),
}


@pytest.mark.parametrize(
    ("name", "way"), [(name, way) for name in RAW for way in BUNDLED if way == "put" or name in ("html", "empty 201")]
)
def test_a_good_status_that_says_nothing(tell: Tell, way: str, name: str) -> None:
    bundled = BUNDLED[way]
    story = tell(bundled)
    story.proxy.faults.append(Fault(say_raw(*RAW[name]), **at_a_write(bundled)))
    answer = story.file()
    assert_as_expected(answer, "unknown")
    then_all_is_well(story)


@pytest.mark.parametrize("name", ["html", "empty 200", "empty 201"])
@pytest.mark.parametrize("way", SINGLES)
def test_a_single_write_that_is_answered_with_nothing(tell: Tell, way: str, name: str) -> None:
    """A PUT names the place itself, so the status is enough, and the read-back proves it. A POST must say where."""
    story = tell(SINGLES[way])

    def play(seen: Any, ask: Callable[[Any], Any]) -> Any:
        ask(seen)
        return say_raw(*RAW[name])(seen, ask)

    story.proxy.faults.append(Fault(play, **at_a_write(SINGLES[way])))
    answer = story.file()
    if UPDATE_CREATE in SINGLES[way]:
        assert_as_expected(answer, "unknown")
        assert isinstance(story.file(), Delivered)
    story.assert_there_once()


@pytest.mark.parametrize("way", WAYS)
def test_json_under_a_wrong_content_type_is_read_for_what_it_says(tell: Tell, way: str) -> None:
    def play(seen: Any, ask: Callable[[Any], Any]) -> Any:
        answer = ask(seen)
        answer.headers = {"Content-Type": "text/plain"}
        return answer

    story = tell(WAYS[way])
    story.proxy.faults.append(Fault(play, **at_a_write(WAYS[way])))
    assert isinstance(story.file(), Delivered)
    story.assert_there_once()


# before and after the writes


READS = {
    "abilities": {"method": "GET", "path": "/fhir/metadata"},
    "person": {"path": "/Patient/_search"},
    "read back": {"method": "GET", "path": "/fhir/DiagnosticReport/"},
    "count": {"path": "/Observation/_search"},
}
TROUBLE = {
    "503": say(503),
    "html": say_raw(200, b"<html>Sign in</html>"),
    "lost": drop_after,
    "half": half_after,
    "empty": say_raw(200, b""),
    "endless": endless,
}


@pytest.mark.parametrize("trouble", TROUBLE)
@pytest.mark.parametrize("place", READS)
def test_trouble_while_reading_leaves_no_doubt_about_writes(tell: Tell, place: str, trouble: str) -> None:
    story = tell(WAYS["put"])
    story.proxy.faults.append(Fault(TROUBLE[trouble], **READS[place]))  # type: ignore[arg-type]
    assert_as_expected(story.file(), "later")
    then_all_is_well(story)


def test_a_search_that_lags_after_a_lost_answer_is_given_time(tell: Tell) -> None:
    """A server that can only be searched: what it stored shows later, so it is not asked at once."""
    story = tell(WAYS["search-first"])
    story.proxy.faults.append(Fault(drop_after, **at_a_write(WAYS["search-first"])))
    answer = story.file()
    assert isinstance(answer, TryLater)
    assert answer.outcome_unknown
    assert answer.after is not None
    assert answer.after >= timedelta(seconds=60)
    then_all_is_well(story)


@pytest.mark.parametrize("way", ["put", "conditional"])
def test_a_change_to_searching_first_finds_what_exists(tell: Tell, way: str) -> None:
    story = tell(WAYS[way], most_entries=3)
    story.proxy.faults.append(Fault(say(429), path=r"/fhir/?$", skip=2))
    assert isinstance(story.file(), TryLater)
    story.proxy._poor = frozenset({UPDATE_CREATE, CONDITIONAL})
    story.server = story.new_server()
    story.ledger.clear()
    then_all_is_well(story)

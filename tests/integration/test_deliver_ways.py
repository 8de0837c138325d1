"""Every way of writing against a real server: once in effect, whatever happens to the answers."""

import json
from typing import Any

import pytest

from gateway.model import Delivered, HoldReason, Rejected, TryLater, Way
from tests.integration.conftest import BATCHES, NO_TAG, SINGLES, WAYS, Story, Tell
from tests.integration.parcels import a_parcel
from tests.integration.proxy import (
    BATCH,
    CONDITIONAL,
    POST_SEARCH,
    STRICT_SEARCH,
    UPDATE_CREATE,
    Fault,
    as_batch,
    changed,
    drop_after,
    drop_before,
    say,
)

pytestmark = pytest.mark.service
ALL = WAYS | BATCHES | SINGLES | NO_TAG
BUNDLED = WAYS | BATCHES | {"conditional, no _tag": NO_TAG["conditional, no _tag"]}


@pytest.fixture(params=BUNDLED.values(), ids=BUNDLED.keys())
def poor(request: pytest.FixtureRequest) -> frozenset[str]:
    return request.param


@pytest.fixture(params=ALL.values(), ids=ALL.keys())
def poorest(request: pytest.FixtureRequest) -> frozenset[str]:
    return request.param


def path_of_write(poor: frozenset[str]) -> dict[str, Any]:
    """Where a write of a reading goes: a bundle, or with one at a time the resource itself."""
    if BATCH not in poor:
        return {"method": "POST", "path": r"/fhir/?$", "skip": 1}  # the first bundle holds the device
    return {"method": "PUT" if UPDATE_CREATE not in poor else "POST", "path": r"/fhir/Observation(/[0-9a-f-]+)?$"}


def test_a_recording_is_filed_once(tell: Tell, poorest: frozenset[str]) -> None:
    story = tell(poorest)
    answer = story.file()
    assert answer == Delivered(patient=f"Patient/{story.patient_id}", count=10, unchanged=answer.unchanged)  # type: ignore[union-attr]
    expected = (
        Way.SEARCH_FIRST if CONDITIONAL in poorest else Way.CONDITIONAL if UPDATE_CREATE in poorest else Way.PUT
    )
    assert story.way is expected
    story.assert_there_once()


def test_nothing_is_written_again(tell: Tell, poorest: frozenset[str]) -> None:
    story = tell(poorest)
    story.file()
    before = story.record.writes()
    assert isinstance(story.file(), Delivered)
    story.ledger.clear()  # a restored store remembers nothing
    story.uncertain = True
    story.server = story.new_server()
    answer = story.file()
    assert isinstance(answer, Delivered)
    assert answer.uncertain_before
    assert answer.unchanged == 10
    assert story.record.writes() == before
    story.assert_there_once()


def test_links_and_subject_are_the_servers_own(tell: Tell, poorest: frozenset[str]) -> None:
    story = tell(poorest)
    story.file()
    held = story.held()
    readings = {f"Observation/{item['id']}" for item in held["Observation"] if "effectiveDateTime" in item}
    mean = next(item for item in held["Observation"] if "effectivePeriod" in item)
    assert {link["reference"] for link in mean["derivedFrom"]} == readings
    assert held["DiagnosticReport"][0]["result"] == [{"reference": f"Observation/{mean['id']}"}]
    assert mean["device"]["reference"] == f"Device/{held['Device'][0]['id']}"


@pytest.mark.parametrize("fault", [drop_after, drop_before], ids=["stored", "not stored"])
def test_a_lost_answer_is_asked_about(tell: Tell, poorest: frozenset[str], fault: Any) -> None:
    """The server stored it, or did not, and the connection broke: nobody can tell from here."""
    story = tell(poorest)
    story.proxy.faults.append(Fault(fault, **path_of_write(poorest)))
    answer = story.file()
    assert isinstance(answer, TryLater)
    assert answer.outcome_unknown
    assert not answer.unreachable
    story.server = story.new_server()
    again = story.file()
    assert isinstance(again, Delivered)
    assert again.uncertain_before
    story.assert_there_once()


def test_a_transaction_that_ran_as_a_batch_is_not_believed_blindly(tell: Tell) -> None:
    """With our own ids every link is right even so; the answer says 200 and 201 for each entry."""
    story = tell(WAYS["put"])
    story.proxy.faults.append(Fault(as_batch, **path_of_write(WAYS["put"])))
    assert isinstance(story.file(), Delivered)
    story.assert_there_once()


def test_failed_entries_inside_a_200_are_seen_and_only_those_are_sent_again(tell: Tell) -> None:
    """Case: a batch answers 200 although entries inside failed; success was counted elsewhere."""
    story = tell(WAYS["put"])

    def one_throttled(body: dict[str, Any]) -> dict[str, Any]:
        body["entry"][2] = {"response": {"status": "429 Too Many Requests"}}
        return {**body, "type": "batch-response"}

    story.proxy.faults.append(Fault(changed(one_throttled), **path_of_write(WAYS["put"])))
    answer = story.file()
    assert isinstance(answer, TryLater)
    kept = len(story.ledger)
    assert kept == 9
    assert isinstance(story.file(), Delivered)


def test_a_refused_entry_holds_with_the_servers_words(tell: Tell) -> None:
    story = tell(WAYS["put"])

    def one_refused(body: dict[str, Any]) -> dict[str, Any]:
        complaint = {
            "resourceType": "OperationOutcome",
            "issue": [
                {
                    "severity": "error",
                    "code": "value",
                    "expression": ["Observation.component[0].valueQuantity.code"],
                    "diagnostics": "unit of Zztestname, born 1961-04-09, is not known",
                }
            ],
        }
        body["entry"][2] = {"response": {"status": "422", "outcome": complaint}}
        return {**body, "type": "batch-response"}

    story.proxy.faults.append(Fault(changed(one_refused), **path_of_write(WAYS["put"])))
    answer = story.file()
    assert isinstance(answer, Rejected)
    assert answer.hold.reason is HoldReason.RECORD_REFUSED
    assert "Observation.component[0].valueQuantity.code" in answer.answer
    assert "Zztestname" not in answer.answer
    assert "1961-04-09" not in answer.answer


WISHES = {
    "extension": {"extension": [{"url": "https://example.org/retry-after", "valueInteger": 120}]},
    "seconds": {"outcome": {"issue": [{"diagnostics": "throttled, retry after 120 seconds"}]}},
    "date": {"outcome": {"issue": [{"diagnostics": "Retry-After: Thu, 05 Mar 2099 12:02:00 GMT"}]}},
    "whole answer": {},
}


@pytest.mark.parametrize("where", WISHES)
def test_a_throttled_entry_is_waited_for_as_it_asks(tell: Tell, where: str) -> None:
    """RFC 9110, 10.2.3: seconds or a date. R4 has no place for it in an entry, so servers choose their own."""
    story = tell(BATCHES["put, batch only"])

    def throttled(seen: Any, ask: Any) -> Any:
        answer = ask(seen)
        body = json.loads(answer.content)
        response = {"status": "429", **WISHES[where]}
        if "outcome" in response:
            response["outcome"]["resourceType"] = "OperationOutcome"
        body["entry"][2] = {"response": response}
        answer.content = json.dumps(body).encode()
        if where == "whole answer":
            answer.headers["Retry-After"] = "120"
        return answer

    story.proxy.faults.append(Fault(throttled, **path_of_write(BATCHES["put, batch only"])))
    answer = story.file()
    assert isinstance(answer, TryLater)
    assert answer.after is not None
    assert answer.after.total_seconds() >= 120
    assert not answer.outcome_unknown
    assert isinstance(story.file(), Delivered)


def test_a_kill_between_parts_resumes_where_the_ledger_ends(tell: Tell, poor: frozenset[str]) -> None:
    story = tell(poor, most_entries=3)

    class Killed(BaseException):
        pass

    parts = 0
    note = story.note

    def dying(way: Way, rows: Any) -> None:
        nonlocal parts
        note(way, rows)
        parts += bool(rows)
        if parts == 2:
            raise Killed

    story.note = dying  # type: ignore[method-assign]
    with pytest.raises(Killed):
        story.file()
    story.note = note  # type: ignore[method-assign]
    assert 0 < len(story.ledger) < 10
    story.server = story.new_server()
    story.uncertain = True  # what a store says of a claim whose worker died
    assert isinstance(story.file(), Delivered)
    story.assert_there_once()


def test_nothing_refers_to_what_is_not_stored_when_split(tell: Tell, poor: frozenset[str]) -> None:
    """The strict proxy refuses dangling references, so that it arrives at all is the proof."""
    story = tell(poor, most_entries=2)
    assert isinstance(story.file(), Delivered)
    assert max(len(seen.body["entry"]) for seen in story.proxy.posts()) <= 2
    story.assert_there_once()


def test_the_limit_of_a_server_is_learnt(tell: Tell, poor: frozenset[str]) -> None:
    story = tell(poor)
    story.proxy.most_entries = 4
    assert isinstance(story.file(), Delivered)
    story.assert_there_once()


def test_a_report_that_is_too_large_is_left_out_and_held(tell: Tell, poor: frozenset[str]) -> None:
    story = tell(poor)
    story.proxy.most_bytes = 5_000
    answer = story.file()
    assert isinstance(answer, Rejected)
    assert answer.hold.reason is HoldReason.REPORT_DROPPED
    held = story.held()
    assert len(held["Observation"]) == 7
    assert "data" not in held["DiagnosticReport"][0]["presentedForm"][0]
    assert isinstance(story.file(waived=frozenset({answer.hold.rule})), Delivered)
    story.assert_there_once()


def test_a_search_that_lags_is_not_taken_for_a_loss(tell: Tell, poor: frozenset[str]) -> None:
    story = tell(poor)
    story.proxy.hides = lambda resource: resource["resourceType"] == "Observation"
    assert isinstance(story.file(), Delivered)
    story.proxy.hides = lambda resource: False
    story.assert_there_once()


def test_what_the_server_changed_is_noticed(tell: Tell, poor: frozenset[str]) -> None:
    story = tell(poor)

    def tampered(body: dict[str, Any]) -> dict[str, Any]:
        return {**body, "conclusion": "something else"}

    story.proxy.faults.append(Fault(changed(tampered), method="GET", path="/fhir/DiagnosticReport/"))
    answer = story.file()
    assert isinstance(answer, Rejected)
    assert answer.hold.reason is HoldReason.RECORD_INCOMPLETE
    assert "DiagnosticReport.conclusion" in answer.hold.detail


def test_what_the_server_lost_is_noticed(tell: Tell, poor: frozenset[str]) -> None:
    story = tell(poor)
    story.proxy.faults.append(Fault(say(404), method="GET", path="/fhir/DiagnosticReport/"))
    answer = story.file()
    assert isinstance(answer, Rejected)
    assert answer.hold.reason is HoldReason.RECORD_INCOMPLETE


def test_two_copies_are_a_conflict_for_a_person(tell: Tell, poor: frozenset[str]) -> None:
    story = tell(poor)
    story.file()
    double = {**story.held()["DiagnosticReport"][0], "id": f"double-{story.patient_id[2:]}"}
    story.record.put(double)
    story.ledger.clear()
    story.uncertain = True
    answer = story.file()
    assert isinstance(answer, Rejected)
    assert answer.hold.reason is HoldReason.RECORD_CONFLICT


def test_a_copy_in_another_persons_record_is_a_conflict(tell: Tell, poor: frozenset[str]) -> None:
    story = tell(poor)
    other = tell(poor)
    story.file()
    stolen = story.held()["DiagnosticReport"][0]
    story.record.put({**stolen, "subject": {"reference": f"Patient/{other.patient_id}"}})
    story.ledger.clear()
    story.uncertain = True
    answer = story.file()
    assert isinstance(answer, Rejected)
    assert answer.hold.reason is HoldReason.RECORD_CONFLICT
    assert "DiagnosticReport.subject.reference" in answer.hold.detail


def test_a_server_that_cannot_search_by_post_is_asked_by_get(tell: Tell) -> None:
    story = tell(frozenset({POST_SEARCH}))
    assert isinstance(story.file(), Delivered)
    story.assert_there_once()


def test_numbers_of_persons_stand_in_no_address_where_post_is_possible(tell: Tell) -> None:
    story = tell()
    story.file()
    number = story.parcel.person.identifier
    assert number is not None
    assert [seen for seen in story.proxy.seen if number.value in seen.path] == []


def test_a_server_of_another_version_is_unsuitable(tell: Tell) -> None:
    story = tell()
    newer = Fault(changed(lambda body: {**body, "fhirVersion": "5.0.0"}), method="GET", path="/fhir/metadata")
    story.proxy.faults.append(newer)
    answer = story.file()
    assert isinstance(answer, Rejected)
    assert answer.hold.reason is HoldReason.RECORD_UNSUITABLE
    assert "5.0.0" in answer.hold.detail


@pytest.mark.parametrize(
    ("first", "then", "way"),
    [("put", frozenset({UPDATE_CREATE}), Way.CONDITIONAL), ("conditional", frozenset({CONDITIONAL}), Way.PUT)],
)
def test_a_change_of_way_first_finds_what_exists(tell: Tell, first: str, then: frozenset[str], way: Way) -> None:
    """The server was changed in the middle of a recording; the ledger is lost as well, to make it hard."""
    story = tell(WAYS[first], most_entries=3)
    story.proxy.faults.append(Fault(say(429), path=r"/fhir/?$", skip=2))
    assert isinstance(story.file(), TryLater)
    assert story.way is not way
    story.proxy._poor = then
    story.server = story.new_server()
    story.ledger.clear()
    assert isinstance(story.file(), Delivered)
    assert story.way is way
    story.assert_there_once()


def test_what_existed_already_is_compared_not_believed(tell: Tell) -> None:
    """A 200 to a conditional create says that something is there, not what."""
    story = tell(WAYS["conditional"])
    story.file()
    report = story.held()["DiagnosticReport"][0]
    story.record.put({**report, "conclusion": "something else"})
    del story.ledger[next(item.id for item in story.parcel.resources if item.type == "DiagnosticReport")]
    answer = story.file()
    assert isinstance(answer, Rejected)
    assert answer.hold.reason is HoldReason.RECORD_CONFLICT
    assert "DiagnosticReport.conclusion" in answer.hold.detail


def test_redirects_are_not_followed(tell: Tell) -> None:
    story = tell()
    away = say(307, Location="http://127.0.0.1:1/elsewhere")
    story.proxy.faults.append(Fault(away, path="/Patient/_search"))
    answer = story.file()
    assert isinstance(answer, Rejected)
    assert answer.hold.reason is HoldReason.PERSON_ANSWER_DOUBTFUL


def test_next_pages_elsewhere_are_not_followed(tell: Tell) -> None:
    story = tell()
    link = [{"relation": "next", "url": "http://127.0.0.1:1/fhir/Patient?page=2"}]
    story.proxy.faults.append(Fault(changed(lambda body: {**body, "link": link}), path="/Patient/_search"))
    answer = story.file()
    assert isinstance(answer, Rejected)
    assert answer.hold.reason is HoldReason.PERSON_ANSWER_DOUBTFUL


def test_pages_are_followed(tell: Tell) -> None:
    """More readings than one page of the server holds (20)."""
    story: Story = tell()
    story.parcel = a_parcel(story.patient_id[2:], readings=45, person=story.parcel.person)
    assert isinstance(story.file(), Delivered)
    story.ledger.clear()
    story.uncertain = True
    answer = story.file()
    assert isinstance(answer, Delivered)
    assert answer.count == answer.unchanged == 49
    assert len(story.held()["Observation"]) == 46


def test_a_server_that_is_not_there(tell: Tell) -> None:
    story = tell()
    story.server = story.new_server(url="http://127.0.0.1:1/fhir")
    answer = story.file()
    assert answer == TryLater(why="the server cannot be reached", unreachable=True)


def test_a_search_parameter_that_is_dropped_is_noticed(tell: Tell) -> None:
    """Case: a server that does not know `identifier` returns everybody, perhaps one single person."""
    story = tell(frozenset({STRICT_SEARCH}))
    other = tell()
    body = {"resource": {"resourceType": "Patient", "id": other.patient_id, "birthDate": "1961-04-09"}}
    alone = Fault(changed(lambda bundle: {**bundle, "entry": [body], "total": 1}), path="/Patient/_search")
    story.proxy.faults.append(alone)
    answer = story.file()
    assert isinstance(answer, Rejected)
    assert answer.hold.reason is HoldReason.PERSON_ANSWER_DOUBTFUL
    assert story.proxy.posts() == []

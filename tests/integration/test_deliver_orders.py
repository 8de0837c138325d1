"""Results are tied to the order that asked for them, as a real record server has it, or to none."""

import json
import uuid
from collections.abc import Callable
from dataclasses import replace
from typing import Any
from urllib.parse import parse_qsl, urlencode

import pytest

from gateway.deliver.comparing import Kept
from gateway.deliver.ordering import Remembered, as_linked
from gateway.fhir import Resource
from gateway.model import Delivered, HoldReason, Rejected, Way
from tests.integration.conftest import WAYS, Story, Tell
from tests.integration.parcels import a_patient
from tests.integration.proxy import Answer, Fault, Seen

pytestmark = pytest.mark.service

SNOMED, PROCEDURE = "http://snomed.info/sct", "164783007"
NUMBERS = "urn:oid:2.999.7"
CHOICE = {"codes": [f"{SNOMED}|{PROCEDURE}"]}
BROKEN = 503


def an_order(story: Story, number: str = "ORD-1", **changes: Any) -> str:
    """Put an order into the record; gives back how results link to it."""
    body = {
        "resourceType": "ServiceRequest",
        "id": str(uuid.uuid4()),
        "identifier": [{"system": NUMBERS, "value": number}],
        "status": "active",
        "intent": "order",
        "code": {"coding": [{"system": SNOMED, "code": PROCEDURE}]},
        "subject": {"reference": f"Patient/{story.patient_id}"},
    }
    body |= changes
    story.record.put({key: value for key, value in body.items() if value is not None})
    return f"ServiceRequest/{body['id']}"


def naming(story: Story, number: str) -> None:
    """The export names an order."""

    def named(resource: Resource) -> Resource:
        if resource.type not in ("Observation", "DiagnosticReport"):
            return resource
        order = [{"type": "ServiceRequest", "identifier": {"value": number}}]
        return replace(resource, body={**resource.body, "basedOn": order})

    story.parcel = replace(story.parcel, resources=tuple(named(each) for each in story.parcel.resources))


def links(story: Story) -> set[str]:
    """The orders that everything of this recording says it was made for, as the record shows it."""
    held = story.held()
    results = held["Observation"] + held["DiagnosticReport"]
    found = {
        json.dumps(each.get("basedOn", [{}])[0].get("reference") or each.get("basedOn", None)) for each in results
    }
    return {str(json.loads(each)) for each in found}


def reason(story: Story, **changes: Any) -> HoldReason:
    answer = story.file(**changes)
    assert isinstance(answer, Rejected), answer
    assert story.proxy.posts() == []
    return answer.hold.reason


@pytest.mark.parametrize("way", WAYS)
def test_the_only_open_order_of_this_person_for_this_procedure_is_named(tell: Tell, way: str) -> None:
    story = tell(WAYS[way], orders=CHOICE)
    order = an_order(story)
    an_order(story, status="completed")
    an_order(story, code={"coding": [{"system": SNOMED, "code": "29303009"}]})  # an electrocardiogram
    an_order(story, intent="proposal")
    an_order(story, subject={"reference": f"Patient/{other_person(story)}"})
    answer = story.file()
    assert isinstance(answer, Delivered) and answer.order == order
    assert links(story) == {order}
    story.assert_there_once()


def other_person(story: Story) -> str:
    other = str(uuid.uuid4())
    story.record.put(a_patient(id=other, identifier=[{"system": NUMBERS, "value": other}]))
    return other


def test_what_was_filed_for_an_order_is_found_as_filed(tell: Tell) -> None:
    story = tell(orders=CHOICE)
    order = an_order(story)
    assert isinstance(story.file(), Delivered)
    kept = Kept(resources=story.parcel.resources, way=Way.PUT, ledger=story.ledger, order=order)
    assert story.server.compare(story.parcel, kept) == ()
    differing = story.server.compare(story.parcel, replace(kept, order="ServiceRequest/another"))
    assert isinstance(differing, tuple) and len(differing) == len(story.parcel.resources) - 2


def test_without_an_open_order_the_setting_decides(tell: Tell) -> None:
    story = tell(orders=CHOICE)
    assert isinstance(story.file(), Delivered)
    assert links(story) == {"None"}
    strict = tell(orders=CHOICE | {"none": "hold"})
    assert reason(strict) is HoldReason.ORDER_NONE
    order = an_order(strict)  # entered in the record meanwhile; the release lets it pass either way
    assert isinstance(strict.file(waived=frozenset({"order-none"})), Delivered)
    assert links(strict) == {order}


def test_with_several_open_orders_the_setting_decides(tell: Tell) -> None:
    story = tell(orders=CHOICE)
    an_order(story), an_order(story, "ORD-2")
    assert reason(story) is HoldReason.ORDER_SEVERAL
    assert isinstance(story.file(waived=frozenset({"order-several"})), Delivered)
    assert links(story) == {"None"}
    loose = tell(orders=CHOICE | {"several": "file"})
    an_order(loose), an_order(loose, "ORD-2")
    assert isinstance(loose.file(), Delivered)
    assert links(loose) == {"None"}


def test_an_order_that_another_recording_was_filed_for_is_not_used_again(tell: Tell) -> None:
    story = tell(orders=CHOICE)
    used, free = an_order(story), an_order(story, "ORD-2")
    kept: list[str] = []
    remembered = Remembered(taken=lambda orders: frozenset({used} & set(orders)), keep=kept.append)
    assert isinstance(story.file(orders=remembered), Delivered)
    assert links(story) == {free} and kept == [free]


@pytest.mark.parametrize(("system", "marks"), [("", ""), (NUMBERS, ",$|")])
def test_the_number_in_the_export_chooses_among_several(tell: Tell, system: str, marks: str) -> None:
    story = tell(orders=CHOICE | {"system": system})
    an_order(story, "ORD-1"), an_order(story, "ORD-2")
    number = f"ORD-3{marks}{story.patient_id}"  # separators of a search may be part of a number
    wanted = an_order(story, number)
    naming(story, number)
    assert isinstance(story.file(), Delivered)
    assert links(story) == {wanted}


def test_an_order_of_somebody_else_holds_whatever_the_settings_say(tell: Tell) -> None:
    story = tell(orders=CHOICE | {"none": "file", "several": "file"})
    number = f"ORD-{story.patient_id}"
    an_order(story, number, subject={"reference": f"Patient/{other_person(story)}"})
    naming(story, number)
    assert reason(story) is HoldReason.ORDER_OF_OTHER
    assert isinstance(story.file(waived=frozenset({"order-of-other"})), Delivered)
    assert links(story) == {"None"}


@pytest.mark.parametrize("changes", [{"status": "completed"}, {"status": "revoked"}, {"intent": "plan"}])
def test_a_number_whose_order_is_not_open_is_not_named(tell: Tell, changes: dict[str, str]) -> None:
    story = tell(orders=CHOICE)
    number = f"ORD-{story.patient_id}"
    an_order(story, number, **changes)
    naming(story, number)
    assert isinstance(story.file(), Delivered)
    assert links(story) == {"None"}


def test_a_number_that_the_record_does_not_know_stands_as_exported(tell: Tell) -> None:
    story = tell(orders=CHOICE)
    naming(story, f"ORD-{story.patient_id}")
    answer = story.file()
    assert isinstance(answer, Delivered) and answer.order is None
    (said,) = links(story)
    assert f"ORD-{story.patient_id}" in said and "reference" not in said


def dropping(name: str, silently: bool) -> Callable[[Seen, Callable[[Seen], Answer]], Answer]:
    """A server that does not know a search parameter, and may not even say so in the link of its answer."""

    def play(seen: Seen, ask: Callable[[Seen], Answer]) -> Answer:
        left = [(key, value) for key, value in parse_qsl(seen.content.decode()) if key != name]
        answer = ask(replace(seen, content=urlencode(left).encode()))
        body = json.loads(answer.content)
        if silently:
            body.pop("link", None)
        content = json.dumps(body).encode()
        headers = {key: value for key, value in answer.headers.items() if key.lower() != "content-length"}
        return Answer(answer.status, headers, content)

    return play


@pytest.mark.parametrize("silently", [False, True])
@pytest.mark.parametrize("name", ["patient", "status", "code"])
def test_a_server_that_ignores_a_parameter_is_caught(tell: Tell, name: str, silently: bool) -> None:
    story = tell(orders=CHOICE)
    an_order(story, subject={"reference": f"Patient/{other_person(story)}"})
    an_order(story, status="completed")
    an_order(story, code={"text": "something else"})
    story.proxy.faults.append(Fault(dropping(name, silently), path=r"/ServiceRequest/_search"))
    assert reason(story) is HoldReason.RECORD_UNSUITABLE
    assert isinstance(story.file(), Delivered) and links(story) == {"None"}


def test_a_server_that_ignores_the_number_is_caught(tell: Tell) -> None:
    story = tell(orders=CHOICE)
    an_order(story)
    naming(story, f"ORD-{story.patient_id}")
    story.proxy.faults.append(Fault(dropping("identifier", True), path=r"/ServiceRequest/_search"))
    assert reason(story) is HoldReason.RECORD_UNSUITABLE


@pytest.mark.parametrize("way", WAYS)
def test_a_result_that_was_half_written_does_not_change_its_order(tell: Tell, way: str) -> None:
    story = tell(WAYS[way], orders=CHOICE, most_entries=4)
    order = an_order(story)
    kept: list[str] = []
    story.proxy.faults.append(Fault(lambda seen, ask: Answer.outcome(BROKEN, "away"), skip=1))
    assert not isinstance(story.file(orders=Remembered(keep=kept.append)), Delivered)
    an_order(story, "ORD-2")  # by now it could not be told which one it is
    assert isinstance(story.file(orders=Remembered(chosen=kept[-1])), Delivered)
    assert links(story) == {order} and as_linked(kept[-1]) == order
    story.assert_there_once()


def test_orders_of_the_entry_that_was_merged_count_too(tell: Tell) -> None:
    story = tell(patient={}, orders=CHOICE)
    old, number = story.patient_id, story.parcel.person.identifier
    assert number is not None
    new = f"{old}-new"
    back = [{"other": {"reference": f"Patient/{old}"}, "type": "replaces"}]
    story.record.put(
        a_patient(id=new, identifier=[{"system": number.system, "value": f"{number.value}-2"}], link=back)
    )
    link = [{"other": {"reference": f"Patient/{new}"}, "type": "replaced-by"}]
    numbers = [{"system": number.system, "value": number.value}]
    story.record.put(a_patient(id=old, identifier=numbers, active=False, link=link))
    order = an_order(story)
    answer = story.file()
    assert isinstance(answer, Delivered)
    assert (answer.order, answer.patient) == (order, f"Patient/{new}")
    assert [remark.value for remark in answer.remarks] == ["entry-was-merged"]

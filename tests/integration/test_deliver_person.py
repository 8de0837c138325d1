"""Nobody is guessed at: what a real server says of persons decides, and doubt holds before anything is written."""

from typing import Any

import pytest

from gateway.model import Delivered, HoldReason, Rejected, Remark
from tests.integration.conftest import EXAMPLES, Story, Tell
from tests.integration.parcels import a_patient

pytestmark = pytest.mark.service


def held_for(story: Story) -> HoldReason:
    answer = story.file()
    assert isinstance(answer, Rejected)
    assert story.proxy.posts() == []
    number = story.parcel.person.identifier
    assert number is not None
    said = repr(answer) + answer.hold.sentence + answer.hold.action
    for word in (number.value, "Zztestname", "Alex", "1961", "1975"):
        assert word not in said
    return answer.hold.reason


def test_nobody_has_the_number(tell: Tell) -> None:
    assert held_for(tell(patient={})) is HoldReason.PERSON_NOT_FOUND


@pytest.mark.parametrize(
    ("patient", "reason"),
    [
        ({"birthDate": "1975-11-30"}, HoldReason.PERSON_MISMATCH),
        ({"birthDate": None}, HoldReason.BIRTH_DATE_MISSING),
        ({"birthDate": "1961"}, HoldReason.BIRTH_DATE_MISSING),
        ({"name": [{"family": "Another", "given": ["Robin"]}]}, HoldReason.PERSON_MISMATCH),
        ({"active": False}, HoldReason.PERSON_INACTIVE),
        ({"deceasedBoolean": True}, HoldReason.PERSON_DECEASED),
        ({"deceasedDateTime": "2026-03-01"}, HoldReason.PERSON_DECEASED),
    ],
)
def test_a_person_who_does_not_fit_holds(tell: Tell, patient: dict[str, Any], reason: HoldReason) -> None:
    assert held_for(tell(patient=patient)) is reason


def test_a_person_who_died_later_is_filed(tell: Tell) -> None:
    assert isinstance(tell(patient={"deceasedDateTime": "2026-03-20"}).file(), Delivered)


def test_absent_active_counts_as_active(tell: Tell) -> None:
    assert isinstance(tell(patient={"active": None}).file(), Delivered)


def with_number(story: Story, **changes: Any) -> None:
    """Register the story's person once more, changed."""
    number = story.parcel.person.identifier
    assert number is not None
    story.record.put(a_patient(**{"identifier": [{"system": EXAMPLES, "value": number.value}]} | changes))


def test_two_persons_with_one_number_hold(tell: Tell) -> None:
    story = tell()
    with_number(story, id=f"{story.patient_id}-2")
    assert held_for(story) is HoldReason.PERSON_SEVERAL


def test_an_old_number_does_not_count(tell: Tell) -> None:
    story = tell(patient={})
    number = story.parcel.person.identifier
    assert number is not None
    old = [{"system": EXAMPLES, "value": number.value, "use": "old"}]
    story.record.put(a_patient(id=story.patient_id, identifier=old))
    assert held_for(story) is HoldReason.PERSON_NOT_FOUND


def test_a_replaced_entry_is_followed_to_the_present_one(tell: Tell) -> None:
    story = tell(patient={})
    new = f"{story.patient_id}-new"
    back = [{"other": {"reference": f"Patient/{story.patient_id}"}, "type": "replaces"}]
    story.record.put(a_patient(id=new, identifier=[{"system": EXAMPLES, "value": "another"}], link=back))
    ahead = [{"other": {"reference": f"Patient/{new}"}, "type": "replaced-by"}]
    with_number(story, id=story.patient_id, active=False, link=ahead)
    answer = story.file()
    assert isinstance(answer, Delivered)
    assert answer.patient == f"Patient/{new}"


def test_a_replacement_that_does_not_link_back_holds(tell: Tell) -> None:
    story = tell(patient={})
    new = f"{story.patient_id}-new"
    story.record.put(a_patient(id=new, identifier=[{"system": EXAMPLES, "value": "another"}]))
    ahead = [{"other": {"reference": f"Patient/{new}"}, "type": "replaced-by"}]
    with_number(story, id=story.patient_id, active=False, link=ahead)
    assert held_for(story) is HoldReason.PERSON_INACTIVE


def test_a_waived_rule_lets_only_itself_pass(tell: Tell) -> None:
    story = tell(patient={"name": [{"family": "Another", "given": ["Robin"]}]})
    first = story.file()
    assert isinstance(first, Rejected)
    assert first.hold.rule == "person-name"
    assert isinstance(story.file(waived=frozenset({"another-rule"})), Rejected)
    assert isinstance(story.file(waived=frozenset({first.hold.rule})), Delivered)


def test_each_destination_maps_the_system_of_numbers(tell: Tell) -> None:
    theirs = "urn:oid:2.999.2"
    story = tell(patient={}, identifier_systems={EXAMPLES: theirs})
    number = story.parcel.person.identifier
    assert number is not None
    story.record.put(a_patient(id=story.patient_id, identifier=[{"system": theirs, "value": number.value}]))
    assert isinstance(story.file(), Delivered)


def test_a_separator_in_a_number_stays_part_of_it(tell: Tell) -> None:
    """FHIR R4 search, escaping: a comma would otherwise ask for two numbers."""
    story = tell(patient={})
    number = story.parcel.person.identifier
    assert number is not None
    story.file()
    asked = [seen for seen in story.proxy.seen if seen.path.endswith("/Patient/_search")]
    assert b"%7C" in asked[0].content
    from gateway.deliver.talk import escaped

    assert escaped("a,b|c$d\\e") == "a\\,b\\|c\\$d\\\\e"


def test_a_person_may_be_named_by_number_alone(tell: Tell) -> None:
    """A research store, say, that keeps no Patients."""
    story = tell(patient={}, person="logical")
    story.proxy._strict = False
    answer = story.file()
    assert isinstance(answer, Delivered)
    assert answer.patient is None
    number = story.parcel.person.identifier
    assert number is not None
    subject = story.held()["DiagnosticReport"][0]["subject"]
    assert subject["identifier"] == {"system": EXAMPLES, "value": number.value}
    assert "reference" not in subject


@pytest.mark.parametrize(
    ("family", "given", "remarks"),
    [
        ("Zztestname", "Alex", ()),
        ("Married", "Alex", (Remark.FAMILY_NAME,)),
        ("Zztestname", "Sascha", (Remark.GIVEN_NAME,)),
        ("Alex", "Zztestname", (Remark.NAMES_EXCHANGED,)),
    ],
)
def test_one_name_that_differs_is_a_note_with_the_delivery(
    tell: Tell, family: str, given: str, remarks: tuple[Remark, ...]
) -> None:
    answer = tell(patient={"name": [{"family": family, "given": [given]}]}).file()
    assert isinstance(answer, Delivered)
    assert answer.remarks == remarks

"""Single readings as vital signs."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from gateway.fhir import check
from gateway.model import (
    Arm,
    HeartRateChoice,
    Judged,
    Kind,
    Outcome,
    ReadingsChoice,
    Tenths,
    Use,
    WindowOrigin,
)
from tests.builders import START, a_reading, a_recording, readings_over
from tests.unit.analyse.examined import windows_of
from tests.unit.fhir.building import all_codes, bodies, codes_of, composed, part

BP = "85354-9"


def first_reading(**filing):
    return bodies(composed(**filing), "Observation", BP)[0]


def test_a_reading_is_the_panel_with_both_pressures_and_the_moment():
    reading = first_reading()
    assert codes_of(reading["code"]) == [BP]
    assert reading["effectiveDateTime"] == "2026-03-03T09:00:00+00:00"
    assert reading["meta"]["profile"] == ["http://hl7.org/fhir/StructureDefinition/bp"]
    assert codes_of(reading["category"][0]) == ["vital-signs"]
    systolic = part(reading, "8480-6")["valueQuantity"]
    assert systolic == {"value": 134, "unit": "mmHg", "system": "http://unitsofmeasure.org", "code": "mm[Hg]"}
    assert reading["subject"] == {
        "type": "Patient",
        "identifier": {"system": "https://fhir.nhs.uk/Id/nhs-number", "value": "9990000018"},
    }


def test_summer_time_keeps_its_offset():
    june = START.replace(month=6)
    made = composed(a_recording(readings_over(june), diary=replace(a_recording().diary, asleep=())))
    assert bodies(made, "Observation", BP)[0]["effectiveDateTime"] == "2026-06-03T09:00:00+01:00"


@pytest.mark.parametrize(("value", "sent"), [(1340, 134), (1335, Decimal("133.5"))])
def test_whole_numbers_stay_whole(value, sent):
    first = replace(a_reading(), systolic=Tenths(value))
    made = composed(a_recording([first, *readings_over()[1:]]))
    reading = bodies(made, "Observation", BP)[0]
    assert part(reading, "8480-6")["valueQuantity"]["value"] == sent
    assert type(part(reading, "8480-6")["valueQuantity"]["value"]) is type(sent)


def test_heart_rate_goes_where_the_site_wants_it():
    inside = first_reading(heart_rate=HeartRateChoice.COMPONENT)
    assert part(inside, "8867-4")["valueQuantity"]["code"] == "/min"
    apart = composed(heart_rate=HeartRateChoice.SEPARATE)
    rates, panels = bodies(apart, "Observation", "8867-4"), bodies(apart, "Observation", BP)
    assert len(rates) == len(panels) == 40
    assert rates[0]["valueQuantity"]["value"] == 74
    assert rates[0]["meta"]["profile"] == ["http://hl7.org/fhir/StructureDefinition/heartrate"]
    nowhere = composed(heart_rate=HeartRateChoice.NONE)
    assert bodies(nowhere, "Observation", "8867-4") == []
    assert len(bodies(nowhere, "Observation", BP)[0]["component"]) == 2
    for made in (apart, nowhere):
        assert check(made, all_codes()) == ()


def test_a_measured_mean_pressure_is_filed_and_a_missing_one_is_not():
    with_mean = replace(a_reading(), mean=Tenths(970))
    made = composed(a_recording([with_mean, *readings_over()[1:]]))
    first, second = bodies(made, "Observation", BP)[:2]
    assert part(first, "8478-0")["valueQuantity"]["value"] == 97
    assert "8478-0" not in str(second)


def mixed():
    """A valid, an excluded, a listed, a failed and a half reading, and a day of valid ones after them."""
    start = START - timedelta(hours=1)
    odd = [
        Judged(reading=a_reading(start, 255, 150, row=1), use=Use.EXCLUDED, rule="limits", why="outside the limits"),
        Judged(
            reading=a_reading(start + timedelta(minutes=5), row=2, kind=Kind.FITTING),
            use=Use.LISTED,
            rule="fitting",
            why="Fitting readings count in no mean.",
        ),
        Judged(
            reading=a_reading(start + timedelta(minutes=9), None, None, None, row=3, failure="E4"),
            use=Use.FAILED,
            rule="failed",
            why="no pressure",
        ),
        Judged(
            reading=a_reading(start + timedelta(minutes=12), 130, None, outcome=Outcome.MEASURED, row=4),
            use=Use.EXCLUDED,
            rule="half",
            why="one pressure is missing",
        ),
    ]
    good = tuple(Judged(reading=reading, use=Use.VALID) for reading in readings_over())
    recording = a_recording([judged.reading for judged in (*odd, *good)])
    windows = windows_of(a_recording())
    return recording, {"judged": (*odd, *good), "windows": windows}


def test_only_valid_readings_are_filed_unless_the_site_wants_all():
    recording, examined = mixed()
    valid = composed(recording, examined=examined, readings=ReadingsChoice.VALID)
    everything = composed(recording, examined=examined, readings=ReadingsChoice.ALL)
    nothing = composed(recording, examined=examined, readings=ReadingsChoice.NONE)
    assert len(bodies(valid, "Observation", BP)) == 40
    assert len(bodies(everything, "Observation", BP)) == 44
    assert bodies(nothing, "Observation", BP) == []
    for made in (valid, everything, nothing):
        assert check(made, all_codes()) == ()


def test_a_missing_pressure_says_why_and_is_never_a_zero():
    recording, examined = mixed()
    made = bodies(composed(recording, examined=examined, readings=ReadingsChoice.ALL), "Observation", BP)
    excluded, listed, failed, half = made[:4]
    # FHIR R4, profile vitalsigns: a coded value of a component is bound to ucum-vitals-common, required
    assert part(excluded, "excluded-by-rule")["valueBoolean"] is True
    assert part(excluded, "excluded-by-rule")["code"]["text"].endswith("by the rule named: limits")
    assert part(excluded, "8480-6")["valueQuantity"]["value"] == 255
    assert part(listed, "listed-only")["valueBoolean"] is True
    for code in ("8480-6", "8462-4"):
        assert codes_of(part(failed, code)["dataAbsentReason"]) == ["error"]
        assert "valueQuantity" not in part(failed, code)
    assert "E4" in failed["note"][0]["text"]
    assert codes_of(part(half, "8462-4")["dataAbsentReason"]) == ["unknown"]


def test_excluded_readings_are_no_ground_of_a_mean():
    recording, examined = mixed()
    made = composed(recording, examined=examined, readings=ReadingsChoice.ALL)
    odd = {f"urn:uuid:{body['id']}" for body in bodies(made, "Observation", BP)[:4]}
    for code in ("96607-7", "97844-5"):
        for body in bodies(made, "Observation", code):
            assert odd.isdisjoint(item["reference"] for item in body["derivedFrom"])


def test_a_heart_rate_that_a_rule_keeps_out_is_not_filed():
    first, *rest = [Judged(reading=reading, use=Use.VALID) for reading in readings_over()]
    judged = (replace(first, heart_rate_excluded="heart-rate-limits"), *rest)
    reading = bodies(composed(examined={"judged": judged}), "Observation", BP)[0]
    assert "8867-4" not in str(reading["component"])
    assert "heart-rate-limits" in reading["note"][0]["text"]


def test_awake_and_asleep_are_said_only_where_the_person_said_so():
    diary = bodies(composed(), "Observation", BP)
    assert diary[0]["extension"][0]["valueCodeableConcept"]["text"] == "Awake"
    night = next(body for body in diary if body["effectiveDateTime"].startswith("2026-03-04T02"))
    assert codes_of(night["extension"][0]["valueCodeableConcept"]) == ["asleep"]
    fixed = windows_of(a_recording(), origin=WindowOrigin.GUIDELINE)
    assert "extension" not in bodies(composed(examined={"windows": fixed}), "Observation", BP)[0]
    silent = windows_of(a_recording(), by_clock=(1,))
    assert not any("extension" in body for body in bodies(composed(examined={"windows": silent}), "Observation", BP))


def test_the_arm_is_text_and_a_code_only_with_a_licence():
    recording = a_recording(monitor=replace(a_recording().monitor, arm=Arm.LEFT))
    assert bodies(composed(recording), "Observation", BP)[0]["bodySite"] == {"text": "Left upper arm"}
    licensed = bodies(composed(recording, snomed=True), "Observation", BP)[0]
    assert codes_of(licensed["bodySite"]) == ["368208006"]
    assert codes_of(licensed["code"]) == [BP, "75367002"]


def test_two_attempts_at_the_same_instant_have_two_ids():
    twice = (a_reading(START, 131, 81, row=1), a_reading(START, 132, 82, row=2), *readings_over()[1:])
    made = composed(a_recording(twice))
    assert len({resource.id for resource in made}) == len(made)


def test_a_tag_of_an_export_is_no_tag_in_a_note():
    """FHIR R4: Annotation.text is markdown, where HTML would act; numbers and signs stay as they were written."""
    readings = [a_reading(START, note='<b onclick="x">after</b> <!-- 5 < 6 & > -->'), *readings_over()[1:]]
    note = bodies(composed(a_recording(readings)), "Observation", "85354-9")[0]["note"][-1]["text"]
    assert note == '&lt;b onclick="x">after&lt;/b> &lt;!-- 5 < 6 & > -->'

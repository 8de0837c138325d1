"""Profiles are claimed where their rules are met and nowhere else.

The packages of US Core, UK Core and AU Core are not to be had offline, so the reference validator cannot judge these
claims; the rules are written here from the sources named beside each test.
"""

import pytest

from gateway.fhir import check, compose, unclaimed
from gateway.fhir.claiming import shortfalls
from gateway.mapping.profile import Claim
from gateway.model import Arm, HeartRateChoice, Monitor, ReadingsChoice
from gateway.settings.maps import load
from tests.builders import NOW, START, a_reading, a_recording, readings_over, tenths
from tests.unit.fhir.building import (
    PAGE,
    SOFTWARE,
    a_filing,
    a_summary,
    all_codes,
    bodies,
    codes_of,
    identity_of,
    part,
)

US = "http://hl7.org/fhir/us/core/StructureDefinition/"
UK = "https://fhir.hl7.org.uk/StructureDefinition/UKCore-Observation-VitalSigns-BloodPressure"
AU = "http://hl7.org.au/fhir/core/StructureDefinition/au-core-bloodpressure"
BP = "http://hl7.org/fhir/StructureDefinition/bp"
DAY = "http://hl7.org/fhir/us/vitals/StructureDefinition/twenty-four-hour-blood-pressure"


def made(profile, recording=None, **filing):
    recording = recording or a_recording(monitor=Monitor(model="M", serial="S", arm=Arm.LEFT))
    resources = compose(
        recording,
        a_summary(recording),
        a_filing(profile=profile, **filing),
        identity_of(recording),
        all_codes(),
        load(None).profiles[profile],
        NOW,
        PAGE,
        SOFTWARE,
    )
    assert check(resources, all_codes()) == ()
    return resources


def claims(body):
    return body.get("meta", {}).get("profile", [])


def test_every_reading_is_a_vital_sign_of_r4_in_every_country():
    for profile in load(None).profiles:
        for body in bodies(made(profile), "Observation", "85354-9"):
            assert BP in claims(body)


def test_us_core_readings_and_averages():
    """HL7 US Core: blood pressure 85354-9; average blood pressure 96607-7 with 96608-5 and 96609-3, over a Period."""
    resources = made("us-core")
    assert all(f"{US}us-core-blood-pressure" in claims(body) for body in bodies(resources, "Observation", "85354-9"))
    means = bodies(resources, "Observation", "96607-7")
    assert len(means) == 2
    for body in means:
        assert claims(body) == [f"{US}us-core-average-blood-pressure"]
        assert "effectivePeriod" in body
        assert not any(key.startswith("value") for key in body)


def test_the_24_hour_profile_is_claimed_on_24_hours_only():
    """HL7 vital signs guide: 97844-5 over a Period, systolic 8490-5 once."""
    (day,) = bodies(made("us-core"), "Observation", "97844-5")
    assert claims(day) == [DAY]
    assert part(day, "8490-5")
    sparse = a_recording(readings_over(every=lambda moment: 120))
    assert all(DAY not in claims(body) for body in bodies(made("us-core", sparse), "Observation"))


def test_uk_core_needs_snomed_and_two_components_with_values():
    """UK Core: LOINC and SNOMED CT codings, closed to two components told apart by code.text, unit written out."""
    separate = {"heart_rate": HeartRateChoice.SEPARATE, "snomed": True}
    readings = bodies(made("uk-core", **separate), "Observation", "85354-9")
    assert readings
    for body in readings:
        assert UK in claims(body)
        assert body["status"] == "final"
        assert [item["code"]["text"] for item in body["component"]] == [
            "Systolic blood pressure",
            "Diastolic blood pressure",
        ]
        assert {item["valueQuantity"]["unit"] for item in body["component"]} == {"millimeter of mercury"}
        assert {"85354-9", "75367002"} <= set(codes_of(body["code"]))


@pytest.mark.parametrize(
    "filing",
    [{"snomed": False, "heart_rate": HeartRateChoice.SEPARATE}, {"snomed": True}],
    ids=["no licence", "rate"],
)
def test_uk_core_is_not_claimed_where_it_is_not_met(filing):
    assert all(UK not in claims(body) for body in bodies(made("uk-core", **filing), "Observation"))


def test_uk_core_is_not_claimed_on_a_failed_reading_or_one_with_a_mean():
    readings = [*readings_over()[:-2], a_reading(START.replace(hour=10, minute=7), None, None, row=90)]
    readings.append(a_reading(START.replace(hour=10, minute=9), row=91, mean=tenths(97)))
    recording = a_recording(sorted(readings, key=lambda item: item.at))
    choices = {"snomed": True, "heart_rate": HeartRateChoice.NONE, "readings": ReadingsChoice.ALL}
    found = bodies(made("uk-core", recording, **choices), "Observation", "85354-9")
    without = [body for body in found if UK not in claims(body)]
    assert len(without) == 2
    assert len(found) > 10


UK_MEAN = "https://fhir.hl7.org.uk/StructureDefinition/UKCore-Observation-AverageBloodPressure"


def test_uk_core_means_stand_alone_and_their_further_results_beside_them():
    """UKCore-Observation-AverageBloodPressure: status final, one category, subject and effective; one or two
    components told apart by code.text and no others, mm[Hg] written out; no specimen. Codes are preferred only.
    """
    resources = made("uk-core")
    means = [*bodies(resources, "Observation", "96607-7"), *bodies(resources, "Observation", "97844-5")]
    assert len(means) == 3
    for body in means:
        assert claims(body) == [UK_MEAN]
        assert body["status"] == "final"
        assert len(body["category"]) == 1
        assert "subject" in body and "effectivePeriod" in body and "specimen" not in body
        assert [item["code"]["text"] for item in body["component"]] == [
            "Systolic blood pressure",
            "Diastolic blood pressure",
        ]
        for item in body["component"]:
            assert item["valueQuantity"]["unit"] == "millimeter of mercury"
            assert item["valueQuantity"]["code"] == "mm[Hg]"
    further = [body for body in bodies(resources, "Observation") if "period-further" in codes_of(body["code"])]
    assert [body["effectivePeriod"] for body in further] == [
        body["effectivePeriod"] for body in bodies(resources, "Observation") if UK_MEAN in claims(body)
    ]
    (report,) = bodies(resources, "DiagnosticReport")
    results = {item["reference"] for item in report["result"]}
    assert {f"urn:uuid:{body['id']}" for body in (*means, *further)} <= results


def test_nothing_is_lost_or_doubled_where_a_profile_closes_its_components():
    """The same components, whichever profile: only the names of the two pressures differ."""

    def held(profile):
        return sorted(
            str(
                (codes_of(item["code"]), [str(item.get(name)) for name in ("valueQuantity", "valueInteger")])
            ).replace("millimeter of mercury", "mmHg")
            for body in bodies(made(profile), "Observation")
            if "effectivePeriod" in body
            for item in body["component"]
        )

    assert held("uk-core") == held("international")


def test_the_body_position_is_the_extension_of_r4_in_every_country():
    """FHIR R4 4.0.1, extension observation-bodyPosition, on Observation."""
    for profile in load(None).profiles.values():
        assert profile.position_extension == "http://hl7.org/fhir/StructureDefinition/observation-bodyPosition"


def test_what_is_sent_without_a_claim_is_told_by_code_and_count():
    assert unclaimed(made("international"), load(None).profiles["international"], all_codes()) == ()
    told = unclaimed(made("uk-core"), load(None).profiles["uk-core"], all_codes())
    assert told == ("UKCore-Observation-VitalSigns-BloodPressure: 40 without it (code, component, more-components)",)
    licensed = unclaimed(made("uk-core", snomed=True), load(None).profiles["uk-core"], all_codes())
    assert licensed == ("UKCore-Observation-VitalSigns-BloodPressure: 40 without it (more-components)",)
    assert unclaimed(made("au-core"), load(None).profiles["au-core"], all_codes()) == (
        "au-core-bloodpressure: 40 without it (body-site, code, component)",
    )


def test_au_core_needs_snomed_and_a_moment():
    """AU Core: SNOMED CT 75367002, 271649006, 271650006 beside LOINC; effective is a dateTime, never a Period."""
    licensed, plain = made("au-core", snomed=True), made("au-core")
    assert all(AU in claims(body) for body in bodies(licensed, "Observation", "85354-9"))
    assert all(AU not in claims(body) for body in bodies(plain, "Observation"))
    assert all(AU not in claims(body) for body in bodies(licensed, "Observation") if "effectivePeriod" in body)


def test_what_keeps_an_instance_from_a_profile_is_said():
    (_, uk) = load(None).profiles["uk-core"].claims[Claim.READING]
    body = bodies(made("uk-core"), "Observation", "85354-9")[0] | {"status": "corrected"}
    said = [item.said for item in shortfalls(body, uk, all_codes())]
    assert "its status is not final" in said
    assert "its code is not loinc:85354-9 and snomed:75367002" in said
    assert "it has components that the profile does not allow" in said

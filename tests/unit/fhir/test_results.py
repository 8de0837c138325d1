"""Period means, whole-recording results, report, devices, provenance."""

from base64 import b64decode, b64encode
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal
from hashlib import sha1
from xml.etree.ElementTree import fromstring

import pytest

from gateway.fhir import check, compose
from gateway.model import (
    Circumstances,
    Diary,
    Interval,
    Monitor,
    PeriodName,
    ReadingsChoice,
    ReportChoice,
    Review,
    StatisticName,
    Verdict,
)
from tests.builders import LONDON, START, a_recording, readings_over
from tests.unit.analyse.examined import windows_of
from tests.unit.fhir.building import (
    PAGE,
    SOFTWARE,
    a_filing,
    a_summary,
    all_codes,
    bodies,
    codes_of,
    composed,
    identity_of,
    international,
    part,
)

OWN = "urn:oid:2.25."


def result(made, own=None, loinc=None):
    found = [body for body in bodies(made, "Observation") if (own or loinc) in codes_of(body["code"])]
    assert len(found) == 1
    return found[0]


def test_awake_and_asleep_are_told_apart_by_our_own_code_and_by_text():
    made = composed()
    for period in ("awake", "asleep"):
        body = result(made, own=f"{period}-mean")
        assert codes_of(body["code"])[:2] == ["96607-7", f"{period}-mean"]
        assert body["code"]["coding"][1]["system"].startswith(OWN)
        assert period in body["code"]["text"]
        for loinc, name in (("96608-5", "systolic"), ("96609-3", "diastolic")):
            assert codes_of(part(body, loinc)["code"])[1] == f"{period}-{name}-mean"


def test_the_whole_day_holds_the_deciding_mean_alone():
    recording = a_recording()
    summary = a_summary(recording)
    assert summary.rules.deciding_mean == "hourly"
    day = result(composed(recording, summary), loinc="97844-5")
    hourly = summary.statistic(StatisticName.SYSTOLIC_MEAN_HOURLY, PeriodName.WHOLE)
    arithmetic = summary.statistic(StatisticName.SYSTOLIC_MEAN, PeriodName.WHOLE)
    assert hourly is not None and arithmetic is not None and hourly.value != arithmetic.value
    assert part(day, "8490-5")["valueQuantity"]["value"] == hourly.value
    assert part(day, "systolic-mean")["valueQuantity"]["value"] == arithmetic.value
    assert codes_of(part(day, "systolic-mean")["code"])[0] == "systolic-mean"
    assert "mean of hourly means" in day["method"]["text"]
    by_reading = replace(summary, rules=replace(summary.rules, deciding_mean="arithmetic"))
    day = result(composed(recording, by_reading), loinc="97844-5")
    assert part(day, "8490-5")["valueQuantity"]["value"] == arithmetic.value
    assert "arithmetic mean" in day["method"]["text"]


def cut(hours):
    """A recording that only has readings in its first `hours` hours, but was planned for a day."""
    whole = a_recording()
    readings = readings_over(hours=hours)
    return replace(whole, readings=readings), {"windows": windows_of(whole)}


@pytest.mark.parametrize(("hours", "code"), [(20, "97844-5"), (19, "whole-recording-mean")])
def test_twenty_of_twenty_four_hours_make_a_24_hour_mean(hours, code):
    recording, examined = cut(hours)
    made = composed(recording, examined=examined)
    body = result(made, own=code)
    if code == "whole-recording-mean":
        assert codes_of(body["code"])[0] == "96607-7"
        assert "97844-5" not in str([item.body for item in made])
        assert "8485-5" not in str(body)
        assert codes_of(part(body, "systolic-maximum")["code"]) == ["systolic-maximum", "maximum"]
    assert check(made, all_codes()) == ()


def test_extremes_that_nobody_verified_carry_our_code_only():
    day = result(composed(), loinc="97844-5")
    assert codes_of(part(day, "8485-5")["code"]) == ["8485-5", "systolic-maximum"]
    assert codes_of(part(day, "diastolic-maximum")["code"]) == ["diastolic-maximum"]
    assert "8467-3" not in str(day)
    assert "8477-2" not in str(day)


def test_counts_are_whole_numbers_and_the_exact_spans_are_there():
    awake = result(composed(), own="awake-mean")
    assert part(awake, "readings-valid")["valueInteger"] == 32
    spans = [item["valuePeriod"] for item in awake["component"] if "valuePeriod" in item]
    assert spans == [
        {"start": "2026-03-03T09:00:00+00:00", "end": "2026-03-03T23:00:00+00:00"},
        {"start": "2026-03-04T07:00:00+00:00", "end": "2026-03-04T09:00:00+00:00"},
    ]
    assert awake["effectivePeriod"] == {"start": spans[0]["start"], "end": spans[1]["end"]}


def test_a_limit_is_inclusive_by_a_tenth_and_names_the_guideline():
    systolic = part(result(composed(), own="awake-mean"), "96608-5")
    (limits,) = systolic["referenceRange"]
    assert limits["high"]["value"] == Decimal("134.9")
    assert limits["text"] == "below 135 mmHg, ESC 2024"
    assert codes_of(systolic["interpretation"][0]) == ["H"]
    assert "138.0" in systolic["interpretation"][0]["text"]
    assert "135" in systolic["interpretation"][0]["text"]


def test_a_class_without_a_code_has_text_only():
    asleep = part(result(composed(), own="asleep-mean"), "96608-5")
    assert list(asleep["interpretation"][0]) == ["text"]


def test_a_recording_that_is_not_good_enough_is_indeterminate_and_says_so():
    reasons = ("Only 3 of 24 asleep readings are valid.",)
    made = composed(examined={"adequacy": {"verdict": Verdict.NOT_ADEQUATE, "reasons": reasons}})
    awake = result(made, own="awake-mean")
    systolic = part(awake, "96608-5")
    assert codes_of(systolic["interpretation"][0]) == ["IND"]
    assert "referenceRange" not in systolic
    assert "Repeating the recording is advised" in awake["note"][0]["text"]
    assert not {"H", "N", "L"} & set(
        codes_seen(made, "http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation")
    )
    (report,) = bodies(made, "DiagnosticReport")
    assert reasons[0] in report["conclusion"]


def codes_seen(made, system):
    def walk(value):
        if isinstance(value, dict):
            if value.get("system") == system and "code" in value:
                yield value["code"]
            for item in value.values():
                yield from walk(item)
        elif isinstance(value, list | tuple):
            for item in value:
                yield from walk(item)

    return [code for item in made for code in walk(item.body)]


def test_a_period_with_too_few_readings_is_not_filed_only_counted():
    recording = a_recording()
    summary = a_summary(recording)
    counts = tuple(
        replace(count, filed=False, valid=3) if count.period is PeriodName.ASLEEP else count
        for count in summary.adequacy.counts
    )
    made = composed(recording, replace(summary, adequacy=replace(summary.adequacy, counts=counts)))
    assert "asleep-mean" not in str([item.body for item in made])
    whole = result(made, own="recording-summary")
    assert part(whole, "readings-valid")["valueInteger"] == 3
    assert "Asleep: 3 valid readings, too few to file a mean." in [note["text"] for note in whole["note"]]
    assert check(made, all_codes()) == ()


def test_a_site_may_want_values_only():
    made = composed(interpretation=False)
    text = str([item.body for item in made])
    assert "referenceRange" not in text
    assert "interpretation" not in {key for item in bodies(made, "Observation") for key in item}
    assert "at or above" not in text.replace("readings at or above the limit", "")
    (report,) = bodies(made, "DiagnosticReport")
    assert "presentedForm" not in report
    assert "Mean blood pressure awake: 138.0/85.8 mmHg" in report["text"]["div"]
    assert check(made, all_codes()) == ()


def test_the_dip_stands_in_the_whole_recording_with_its_words():
    whole = result(composed(), own="recording-summary")
    dip = part(whole, "systolic-dip")
    assert dip["valueQuantity"]["value"] == Decimal("13.9")
    assert dip["valueQuantity"]["code"] == "%"
    assert "dipper" in dip["interpretation"][0]["text"]
    assert codes_of(whole["category"][0]) == ["procedure"]


def test_two_days_are_told_apart():
    night = [
        Interval(datetime(2026, 3, day, 23, tzinfo=LONDON), datetime(2026, 3, day + 1, 7, tzinfo=LONDON))
        for day in (3, 4)
    ]
    recording = a_recording(readings_over(hours=48), diary=Diary(asleep=tuple(night)))
    made = composed(recording, examined={"days": 2})
    assert len({item.id for item in made}) == len(made)
    awake = [body for body in bodies(made, "Observation") if "awake-mean" in codes_of(body["code"])]
    assert [body["code"]["text"][-7:] for body in awake] == [", day 1", ", day 2"]
    assert check(made, all_codes()) == ()


def test_sleep_by_day_is_never_called_night():
    assert "314445006" in codes_seen(composed(snomed=True), "http://snomed.info/sct")
    by_day = windows_of(a_recording(), sleep_by_day=True)
    made = composed(examined={"windows": by_day}, snomed=True)
    assert not {"314445006", "314446007", "314460009", "314461008"} & set(codes_seen(made, "http://snomed.info/sct"))


def test_the_report_is_marked_until_somebody_reviewed_it():
    (report,) = bodies(composed(), "DiagnosticReport")
    assert report["status"] == "preliminary"
    assert report["conclusion"].startswith("Automated, not yet reviewed.")
    (final,) = bodies(composed(report_status="final"), "DiagnosticReport")
    assert final["status"] == "final"
    assert "not yet reviewed" not in final["conclusion"]


def test_the_review_sentence_stands_first():
    review = Review(rule="local", rows=(12,), sentence="Values above your local review limit (rule local): row 12.")
    (report,) = bodies(composed(examined={"review": review}), "DiagnosticReport")
    assert report["conclusion"].startswith(f"Automated, not yet reviewed. {review.sentence}\n")


def test_old_data_is_headed_so():
    recording = a_recording()
    made = composed(recording, replace(a_summary(recording), historical=True))
    assert "Historical recording, analysed on 2026-03-05." in bodies(made, "DiagnosticReport")[0]["conclusion"]


def test_the_page_is_filed_once_where_the_site_wants_it():
    (report,) = bodies(composed(), "DiagnosticReport")
    (page,) = report["presentedForm"]
    assert b64decode(page["data"]) == PAGE
    assert page["size"] == len(PAGE)
    assert page["hash"] == b64encode(sha1(PAGE).digest()).decode()  # FHIR R4, Attachment.hash: SHA-1, base64
    made = composed(report=ReportChoice.DOCUMENT_REFERENCE)
    (document,) = bodies(made, "DocumentReference")
    assert b64decode(document["content"][0]["attachment"]["data"]) == PAGE
    assert "presentedForm" not in bodies(made, "DiagnosticReport")[0]
    assert check(made, all_codes()) == ()
    for without in (composed(report=ReportChoice.NONE), composed(page=None)):
        assert bodies(without, "DocumentReference") == []
        assert "presentedForm" not in bodies(without, "DiagnosticReport")[0]
        assert check(without, all_codes()) == ()


@pytest.mark.parametrize("choice", [ReportChoice.DIAGNOSTIC_REPORT, ReportChoice.DOCUMENT_REFERENCE])
def test_the_page_may_lie_in_a_binary_of_its_own(choice):
    made = composed(report=choice, report_binary=True)
    (binary,) = bodies(made, "Binary")
    assert b64decode(binary["data"]) == PAGE
    assert binary["contentType"] == "application/pdf"
    (report,) = bodies(made, "DiagnosticReport")
    assert binary["securityContext"] == report["subject"]
    documents = bodies(made, "DocumentReference")
    attachment = documents[0]["content"][0]["attachment"] if documents else report["presentedForm"][0]
    assert attachment["url"] == f"urn:uuid:{binary['id']}"
    assert "data" not in attachment
    assert attachment["size"] == len(PAGE)
    assert attachment["hash"] == b64encode(sha1(PAGE).digest()).decode()  # FHIR R4, Attachment.hash: SHA-1, base64
    (provenance,) = bodies(made, "Provenance")
    assert {"reference": f"urn:uuid:{binary['id']}"} in provenance["target"]
    order = [item.type for item in made]
    assert order.index("Binary") < order.index("DiagnosticReport")
    assert check(made, all_codes()) == ()


@pytest.mark.parametrize("without", [{"report": ReportChoice.NONE}, {"interpretation": False}, {"page": None}])
def test_without_a_page_there_is_no_binary(without):
    made = composed(**{"report_binary": True, **without})
    assert bodies(made, "Binary") == []
    assert check(made, all_codes()) == ()


def test_the_narrative_is_escaped_and_readable():
    text = '<script>alert("1")</script> & more'
    recording = a_recording(monitor=Monitor(model=text, serial="EX-1", cuff_size=text))
    made = composed(recording)
    for item in made:
        if "text" in item.body:
            root = fromstring(item.body["text"]["div"])
            assert not [element for element in root.iter() if element.tag.endswith("script")]
    (monitor,) = [body for body in bodies(made, "Device") if "serialNumber" in body]
    assert text in "".join(fromstring(monitor["text"]["div"]).itertext())
    assert check(made, all_codes()) == ()


def test_a_monitor_is_a_device_only_with_a_serial_number():
    assert len(bodies(composed(), "Device")) == 2
    nameless = composed(a_recording(monitor=Monitor(model="Example Monitor")))
    assert len(bodies(nameless, "Device")) == 1
    assert bodies(nameless, "Observation", "85354-9")[0]["device"] == {"display": "Example Monitor"}
    unknown = composed(a_recording(monitor=Monitor()))
    assert "device" not in bodies(unknown, "Observation", "85354-9")[0]
    for made in (nameless, unknown):
        assert check(made, all_codes()) == ()


def test_the_order_is_named_when_known():
    recording = a_recording(circumstances=Circumstances(order="ORD-17"))
    (report,) = bodies(composed(recording), "DiagnosticReport")
    assert report["basedOn"] == [{"type": "ServiceRequest", "identifier": {"value": "ORD-17"}}]


def test_provenance_covers_everything_and_names_the_export():
    made = composed()
    (provenance,) = bodies(made, "Provenance")
    targets = {item["reference"] for item in provenance["target"]}
    assert targets == {f"urn:uuid:{item.id}" for item in made if item.type not in ("Device", "Provenance")}
    what = provenance["entity"][0]["what"]
    # RFC 6920, section 3: base64url without padding of 32 zero bytes
    assert what["identifier"]["value"] == "ni:///sha-256;" + "A" * 43
    assert codes_of(provenance["agent"][0]["type"]) == ["assembler"]


def test_readings_that_are_not_filed_are_no_ground():
    made = composed(readings=ReadingsChoice.NONE)
    assert all("derivedFrom" not in body for body in bodies(made, "Observation"))


def test_everything_of_a_recording_carries_its_identifier():
    made = composed()
    for item in made:
        if item.type not in ("Device", "Provenance"):
            values = [entry["value"] for entry in item.body["identifier"]]
            assert values[0] == f"urn:uuid:{item.id}"
            assert len(set(values)) == 2
    recording_ids = {item.body["identifier"][1]["value"] for item in made if item.type == "Observation"}
    assert len(recording_ids) == 1


def test_the_same_arguments_give_the_same_resources():
    assert composed() == composed()


def test_a_recording_of_nobody_is_refused():
    recording = a_recording()
    summary = a_summary(recording)
    nobody = replace(recording, person=replace(recording.person, identifier=None))
    issued = START + timedelta(days=2)
    arguments = (a_filing(), identity_of(recording), all_codes(), international(), issued, None, SOFTWARE)
    with pytest.raises(ValueError, match="identifier"):
        compose(nobody, summary, *arguments)

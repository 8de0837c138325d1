"""Every rule broken once: what the FHIR models let through is found before anything is queued.

The faults are those that `fhir.resources` accepts (tried out, version 8.3), the invariants of FHIR R4 4.0.1 and its
profiles vitalsigns, bp and heartrate, and our own rules.
"""

from base64 import b64encode
from collections.abc import Callable
from copy import deepcopy
from decimal import Decimal
from functools import cache
from typing import Any
from uuid import UUID

import pytest

from gateway.fhir import PatientLink, Rank, Resource, check, check_bundle, next_part, parsed, written
from gateway.fhir.check import body_faults
from gateway.fhir.rules.models import model_faults
from gateway.model import HeartRateChoice, ReportChoice, Way
from tests.unit.fhir.building import all_codes, composed

Body = dict[str, Any]


@cache
def standard() -> bytes:
    made = composed(heart_rate=HeartRateChoice.SEPARATE)
    return written([{"rank": int(item.rank), "body": item.body} for item in made])


def resources() -> list[Resource]:
    return [Resource(Rank(item["rank"]), item["body"]) for item in parsed(standard())]


def pick(made: list[Resource], kind: str) -> Body:
    """reading, rate, awake, day, whole, report, monitor, provenance"""
    codes = {
        "reading": "85354-9",
        "rate": "8867-4",
        "awake": "awake-mean",
        "day": "97844-5",
        "whole": "recording-summary",
    }
    types = {"report": "DiagnosticReport", "monitor": "Device", "provenance": "Provenance"}
    for item in made:
        if kind in types and item.type == types[kind] and (kind != "monitor" or "serialNumber" in item.body):
            return item.body  # type: ignore[return-value]
        coded = item.body["code"].get("coding", []) if item.type == "Observation" else []
        if kind in codes and codes[kind] in [coding["code"] for coding in coded]:
            return item.body  # type: ignore[return-value]
    raise AssertionError(kind)


def put(path: str, value: Any) -> Callable[[Body], None]:
    """Set the element at a path like `component.0.valueQuantity.code`."""

    def change(body: Body) -> None:
        *way, last = [int(step) if step.isdigit() else step for step in path.split(".")]
        target: Any = body
        for step in way:
            target = target[step]
        target[last] = value

    return change


def drop(path: str) -> Callable[[Body], None]:
    def change(body: Body) -> None:
        *way, last = [int(step) if step.isdigit() else step for step in path.split(".")]
        target: Any = body
        for step in way:
            target = target[step]
        del target[last]

    return change


def add(path: str, value: Any) -> Callable[[Body], None]:
    def change(body: Body) -> None:
        target: Any = body
        for step in path.split("."):
            target = target[int(step) if step.isdigit() else step]
        target.append(deepcopy(value))

    return change


LOINC = "http://loinc.org"
SPOT = {"system": LOINC, "code": "8480-6", "display": "Systolic blood pressure"}
DIV = '<div xmlns="http://www.w3.org/1999/xhtml">%s</div>'
NOWHERE = "urn:uuid:00000000-0000-8000-8000-000000000000"
VALUE = {"value": 120, "unit": "mmHg", "system": "http://unitsofmeasure.org", "code": "mm[Hg]"}
NOTE = {"time": "2026-03-03T09:00:00", "text": "Diary: x"}
WORDS = {"code": {"text": "Rule"}, "valueCodeableConcept": {"text": "limits"}}

BROKEN = [
    # what the models accept (reference: tried out with fhir.resources 8.3)
    ("status that is none", "reading", put("status", "nonsense"), "status: is no status"),
    ("report status that is none", "report", put("status", "done"), "status: is no status"),
    ("device status that is none", "monitor", put("status", "on"), "status: is no status"),
    ("device name of no kind", "monitor", put("deviceName.0.type", "nickname"), "no kind of device name"),
    ("empty code", "reading", put("code", {}), "code: is empty"),
    ("coding without anything", "reading", put("code.coding.0", {}), "code.coding[0]: is empty"),
    ("empty list", "reading", put("note", []), "note: is empty"),
    ("null", "reading", put("method", None), "method: is empty"),
    ("empty text", "reading", put("method.text", ""), "method.text: is empty"),
    ("no category", "reading", drop("category"), "category: is missing"),
    ("no subject", "reading", drop("subject"), "subject: is missing"),
    ("no time", "reading", drop("effectiveDateTime"), "effective[x]: must stand exactly once"),
    ("no components", "reading", drop("component"), "exactly one systolic"),
    ("kPa in the pressure panel", "reading", put("component.0.valueQuantity.code", "kPa"), "no unit of UCUM"),
    ("mmHg as a code", "reading", put("component.0.valueQuantity.code", "mmHg"), "no unit of UCUM"),
    ("unit without system", "reading", drop("component.0.valueQuantity.system"), "no unit of UCUM"),
    ("unit written otherwise", "reading", put("component.0.valueQuantity.unit", "torr"), "not how this unit"),
    ("code without system", "reading", drop("code.coding.0.system"), "not among the codes"),
    ("comparator that is none", "reading", put("component.0.valueQuantity.comparator", "~"), "is none of <"),
    ("value and reason", "reading", put("component.0.dataAbsentReason", {"text": "x"}), "obs-6"),
    ("neither value nor reason", "reading", drop("component.0.valueQuantity"), "vs-2, vs-3"),
    ("two values", "reading", put("component.0.valueInteger", 120), "more than one value"),
    ("period ends before it starts", "awake", put("effectivePeriod.end", "2026-03-01T00:00:00+00:00"), "ends before"),
    ("period without an end", "awake", drop("effectivePeriod.end"), "needs start and end"),
    ("month only", "reading", put("effectiveDateTime", "2026-03"), "seconds and offset"),
    ("time without offset", "reading", put("effectiveDateTime", "2026-03-03T09:00:00"), "seconds and offset"),
    ("time without seconds", "reading", put("effectiveDateTime", "2026-03-03T09:00+00:00"), "seconds and offset"),
    ("day that is none", "reading", put("effectiveDateTime", "2026-02-30T09:00:00+00:00"), "seconds and offset"),
    ("junk link", "reading", put("device.reference", "the monitor"), "neither urn:uuid of ours"),
    ("link to a fragment", "reading", put("device.reference", "#monitor"), "neither urn:uuid of ours"),
    ("link outside", "reading", put("device.reference", "http://elsewhere.example/Device/1"), "neither urn:uuid"),
    ("empty range", "awake", put("component.0.referenceRange.0", {"low": VALUE}), "must name the guideline"),
    ("range of nothing", "awake", put("component.0.referenceRange.0", {"appliesTo": [{"text": "x"}]}), "obs-3"),
    ("id too long", "reading", put("id", "x" * 65), "is not a FHIR id"),
    ("extension without value", "reading", drop("extension.0.valueCodeableConcept"), "ext-1"),
    ("extension with both", "reading", put("extension.0.extension", [{"url": "urn:x", "valueCode": "x"}]), "ext-1"),
    ("extension without address", "reading", put("extension.0.url", "sleep"), "absolute url"),
    ("script in the narrative", "report", put("text.div", DIV % "<script>x</script>"), "txt-1"),
    ("picture in the narrative", "report", put("text.div", DIV % '<p onclick="x">x</p>'), "such an attribute"),
    ("narrative that is no XHTML", "report", put("text.div", "<p>x</p>"), "not one div of XHTML"),
    ("narrative cut off", "report", put("text.div", "<div>"), "not well-formed"),
    ("entity in the narrative", "report", put("text.div", "<!DOCTYPE d [<!ENTITY e 'x'>]><p>&e;</p>"), "not well"),
    ("narrative that says nothing", "report", put("text.div", DIV % "<p> </p>"), "txt-2"),
    ("narrative status that is none", "report", put("text.status", "made"), "no narrative status"),
    ("reading without a text", "reading", drop("text"), "text: is missing"),
    ("provenance without a text", "provenance", drop("text"), "text: is missing"),
    ("note at a time without offset", "reading", put("note", [NOTE]), "seconds and offset"),
    ("base64 that is none", "report", put("presentedForm.0.data", "%%%"), "is not base64"),
    ("page that is no PDF", "report", put("presentedForm.0.data", b64encode(b"text").decode()), "is not a PDF"),
    ("size that is wrong", "report", put("presentedForm.0.size", 1), "not the number of bytes"),
    ("hash that is wrong", "report", put("presentedForm.0.hash", "AAAA"), "is not the SHA-1"),
    # what has no exact form
    ("float", "reading", put("component.0.valueQuantity.value", 120.0), "no exact form"),
    ("NaN", "reading", put("component.0.valueQuantity.value", Decimal("NaN")), "not a finite number"),
    ("number as text", "reading", put("component.0.valueQuantity.value", "120"), "is not a number"),
    ("true as a number", "reading", put("component.0.valueQuantity.value", True), "is not a number"),
    ("padded code", "reading", put("status", "final "), "blanks at its edge"),
    ("control character", "reading", put("method.text", "a\x00b"), "control character"),
    # codes and names
    ("code nobody declared", "reading", put("code.coding.0.code", "55284-4"), "not among the codes"),
    ("code nobody verified", "day", put("component.0.code.coding.0.code", "8467-3"), "not among the codes"),
    ("code under another name", "reading", put("code.coding.0.display", "Pressure"), "is not called so"),
    ("code twice", "reading", add("code.coding", {"system": LOINC, "code": "85354-9", "display": "x"}), "code twice"),
    ("codes without text", "reading", drop("code.text"), "needs a text"),
    # the panel, heart rate and means
    ("second LOINC code on the panel", "reading", add("code.coding", SPOT), "no other LOINC code"),
    ("panel that is no vital sign", "reading", put("category.0.coding.0.code", "procedure"), "VSCat"),
    ("panel with a value", "reading", put("valueQuantity", VALUE), "may not stand on the panel"),
    ("diastolic missing", "reading", drop("component.1"), "exactly one diastolic"),
    ("pressure in another unit", "reading", put("component.0.valueQuantity.code", "/min"), "not in mm[Hg]"),
    ("panel over a span", "reading", put("effectivePeriod", {"start": "x", "end": "y"}), "must stand exactly once"),
    ("heart rate in another unit", "rate", put("valueQuantity.code", "%"), "is not in /min"),
    ("words in a vital sign", "reading", put("component.1", WORDS), "ucum-vitals-common"),
    ("hours in a vital sign", "reading", put("component.1.valueQuantity.code", "h"), "ucum-vitals-common"),
    ("mean under the code of a reading", "awake", add("component.0.code.coding", SPOT), "code of a single reading"),
    ("24-hour mean without its diastolic", "day", drop("component.1"), "exactly one 8472-3 beside 97844-5"),
    ("mean without its systolic", "awake", drop("component.0"), "exactly one 96608-5 beside 96607-7"),
    ("mean of no category", "awake", put("category.0.coding.0.system", "urn:x"), "neither vital-signs nor procedure"),
    ("mean at a moment", "awake", put("effectiveDateTime", "2026-03-03T09:00:00+00:00"), "exactly once"),
    # whose, which, how it hangs together
    ("subject that is nobody", "reading", put("subject", {"type": "Patient", "display": "x"}), "names nobody"),
    ("subject that is a group", "reading", put("subject", {"reference": "Group/1"}), "is not a Patient"),
    ("one identifier", "reading", drop("identifier.1"), "must be its own, and the recording's"),
    ("no identifier", "reading", drop("identifier"), "identifier: is missing"),
    ("no performer", "report", drop("performer"), "performer: is missing"),
    ("no conclusion", "report", drop("conclusion"), "conclusion: is missing"),
    ("two times of the report", "report", put("effectiveDateTime", "2026-03-03T09:00:00+00:00"), "there are two"),
    ("report that rests on a device", "report", put("result.0", {"reference": "MONITOR"}), "may not lead to Device"),
    ("reading that rests on the report", "reading", put("derivedFrom", [{"reference": "REPORT"}]), "written later"),
    ("link to nothing", "reading", put("device.reference", NOWHERE), "nothing"),
    ("provenance without tag", "provenance", drop("meta"), "meta: is missing"),
    ("provenance with another tag", "provenance", put("meta.tag.0.system", "urn:x"), "must carry our id"),
    ("provenance that misses one", "provenance", drop("target.0"), "does not cover everything"),
    ("provenance of nobody", "provenance", drop("agent.0.who"), "names nobody"),
    ("provenance role that is none", "provenance", put("entity.0.role", "origin"), "is none of"),
    ("resource of another type", "monitor", put("resourceType", "Patient"), "not one that we file"),
]  # fmt: skip


def test_the_standard_recording_passes():
    assert check(resources(), all_codes()) == ()


@pytest.mark.parametrize(("kind", "change", "what"), [case[1:] for case in BROKEN], ids=[case[0] for case in BROKEN])
def test_a_broken_rule_is_found_and_named(kind, change, what):
    made = resources()
    body = pick(made, kind)
    change(body)
    links = {"MONITOR": pick(resources(), "monitor")["id"], "REPORT": pick(resources(), "report")["id"]}
    for element in [*body.get("result", [])[:1], *body.get("derivedFrom", [])[:1]]:
        if element["reference"] in links:
            element["reference"] = f"urn:uuid:{links[element['reference']]}"
    faults = check(made, all_codes())
    assert any(what in fault for fault in faults), faults
    named = f"{body['resourceType']}/{body['id']}: "
    assert all(fault.startswith(named) for fault in faults if what in fault)


MODELS = [
    ("element that R4 does not know", "reading", put("colour", "red")),
    ("list where one belongs", "reading", put("status", ["final"])),
    ("code missing", "reading", drop("code")),
    ("date that is none", "report", put("issued", "yesterday")),
    ("observation without a status", "reading", drop("status")),
]


@pytest.mark.parametrize(("kind", "change"), [case[1:] for case in MODELS], ids=[case[0] for case in MODELS])
def test_the_models_are_asked_too(kind, change):
    body = pick(resources(), kind)
    assert list(model_faults(body)) == []
    change(body)
    assert [fault for fault in model_faults(body) if "breaks the R4 model" in fault.what]


ODD = ([], {}, [[]], {"a": [{}]}, 7, None, "x")


@pytest.mark.parametrize("kind", ["reading", "awake", "report", "monitor", "provenance"])
def test_no_shape_whatsoever_makes_the_check_stumble(kind):
    """Each place of a resource in turn holds what nobody would write there; the check answers, it never raises."""
    sound = pick(resources(), kind)
    for place in places_of(sound):
        for odd in ODD:
            body = deepcopy(sound)
            put(place, odd)(body)
            assert isinstance(list(body_faults(body, all_codes().approved(), all_codes().spellings())), list)


def places_of(value: Any, path: str = "") -> list[str]:
    """Paths of one item of every list and of every element."""
    items = value.items() if isinstance(value, dict) else enumerate(value[:1]) if isinstance(value, list) else ()
    found = []
    for key, item in items:
        place = f"{path}.{key}" if path else str(key)
        found += [place, *places_of(item, place)]
    return found


def test_faults_hold_no_value_of_the_person():
    made = resources()
    body = pick(made, "reading")
    body["subject"]["identifier"] = {"system": "https://fhir.nhs.uk/Id/nhs-number", "value": ["9990000018"]}
    body["birthDate"] = "1961-04-09"
    faults = check(made, all_codes())
    assert faults
    assert "9990000018" not in str(faults)
    assert "1961" not in str(faults)


def test_the_same_resource_twice_is_found():
    made = resources()
    assert any("id: stands twice" in fault for fault in check([*made[:3], *made[2:]], all_codes()))


def test_the_order_of_writing_is_held():
    made = resources()
    assert any("order of writing" in fault for fault in check([*made[1:], made[0]], all_codes()))


def test_one_provenance_is_needed():
    assert any("exactly one Provenance" in fault for fault in check(resources()[:-1], all_codes()))


def test_nothing_is_nothing_to_file():
    assert check((), all_codes()) != ()


def test_a_document_is_checked_too():
    made = list(composed(report=ReportChoice.DOCUMENT_REFERENCE))
    document = next(item for item in made if item.type == "DocumentReference")
    body: Any = parsed(written(document.body))
    body["docStatus"] = "draft"
    del body["content"][0]["attachment"]
    made[made.index(document)] = Resource(document.rank, body)
    faults = check(made, all_codes())
    assert any("is no document status" in fault for fault in faults)
    assert any("holds no attachment" in fault for fault in faults)


ELSEWHERE = [
    (
        "leads to nothing",
        "DiagnosticReport",
        put("presentedForm.0.url", f"urn:uuid:{UUID(int=1)}"),
        "leads to nothing that is filed",
    ),
    ("no place", "DiagnosticReport", put("presentedForm.0.url", "https://example.org/p"), "neither urn:uuid of ours"),
    ("no Binary", "DiagnosticReport", put("presentedForm.0.url", "Media/1"), "neither urn:uuid of ours"),
    ("no size", "DiagnosticReport", drop("presentedForm.0.size"), "needs size and hash"),
    ("no hash", "DiagnosticReport", drop("presentedForm.0.hash"), "needs size and hash"),
    ("twice", "DiagnosticReport", put("presentedForm.0.data", "JVBERi0xLjcK"), "filed twice"),
    ("nobody's", "Binary", drop("securityContext"), "securityContext: is missing"),
    ("no tag", "Binary", put("meta.tag.0.system", "urn:other"), "must carry our id"),
    ("no PDF", "Binary", put("data", "aGFsbG8="), "is not a PDF"),
    ("no base64", "Binary", put("data", "%"), "is not base64"),
]


@pytest.mark.parametrize(("kind", "change", "what"), [case[1:] for case in ELSEWHERE], ids=[c[0] for c in ELSEWHERE])
def test_a_page_that_lies_elsewhere_is_checked(kind, change, what):
    made = list(composed(report_binary=True))
    assert check(made, all_codes()) == ()
    place = next(index for index, item in enumerate(made) if item.type == kind)
    body: Any = parsed(written(made[place].body))
    change(body)
    made[place] = Resource(made[place].rank, body)
    assert any(what in fault for fault in check(made, all_codes()))


BUNDLES = [
    ("batch", put("type", "batch"), "is not a transaction"),
    ("total", put("total", 3), "bdl-1"),
    ("no entries", put("entry", []), "entry: is empty"),
    ("entry without request", drop("entry.0.request"), "needs the method"),
    ("method that is none", put("entry.0.request.method", "SEND"), "needs the method"),
    ("entry without resource", drop("entry.0.resource"), "resource: is missing"),
    ("no fullUrl", drop("entry.0.fullUrl"), "is not urn:uuid"),
    ("written elsewhere", put("entry.0.request.url", "Device/other"), "where this resource belongs"),
    ("resource that is faulty", put("entry.0.resource.status", "on"), "is no status of Device"),
]


def a_bundle() -> Any:
    part = next_part(resources(), PatientLink(reference="Patient/1"), Way.PUT, {})
    assert part is not None
    return parsed(part.content)


@pytest.mark.parametrize(("change", "what"), [case[1:] for case in BUNDLES], ids=[case[0] for case in BUNDLES])
def test_a_broken_bundle_is_found(change, what):
    made = a_bundle()
    assert check_bundle(made, all_codes()) == ()
    change(made)
    assert any(what in fault for fault in check_bundle(made, all_codes()))


def test_the_same_full_url_twice_is_found():
    made = a_bundle()
    made["entry"].append(made["entry"][0])
    assert any("bdl-7" in fault for fault in check_bundle(made, all_codes()))

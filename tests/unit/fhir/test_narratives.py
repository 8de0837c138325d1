"""Every resource can be read without our tool, and its text says nothing but what the resource says."""

import re
from dataclasses import replace
from xml.etree.ElementTree import fromstring

import pytest

from gateway.fhir import check
from gateway.model import HeartRateChoice, Monitor, ReadingsChoice, ReportChoice
from gateway.model import StatisticName as N
from gateway.settings.maps import load
from tests.builders import a_reading, a_recording, readings_over
from tests.conformance.fhir.generated import generated
from tests.unit.fhir.building import all_codes, bodies, composed
from tests.unit.fhir.test_readings import mixed

NUMBER = re.compile(r"\d+(?:\.\d+)?")
PAIR = re.compile(r"(\d+\.\d/\d+\.\d) mmHg")
PARTNER = {N.SYSTOLIC_MEAN: N.DIASTOLIC_MEAN, N.SYSTOLIC_MEAN_HOURLY: N.DIASTOLIC_MEAN_HOURLY}
SHORT = ("85354-9", "8867-4")
"""Single readings."""


def everything():
    recording, examined = mixed()
    return composed(
        recording,
        examined=examined,
        readings=ReadingsChoice.ALL,
        heart_rate=HeartRateChoice.SEPARATE,
        report=ReportChoice.DOCUMENT_REFERENCE,
    )


def lines_of(body):
    return ["".join(part.itertext()) for part in fromstring(body["text"]["div"])]


def rest_of(body):
    return str({key: value for key, value in body.items() if key != "text"})


@pytest.mark.parametrize("kind", ["Device", "Observation", "DiagnosticReport", "DocumentReference", "Provenance"])
def test_every_kind_has_a_text(kind):
    found = bodies(everything(), kind)
    assert found
    for body in found:
        assert body["text"]["status"] == "generated"
        assert lines_of(body)


@pytest.mark.parametrize("loinc", SHORT)
def test_a_reading_takes_four_lines_at_most_and_no_number_that_it_does_not_hold(loinc):
    found = bodies(everything(), "Observation", loinc)
    assert found
    for body in found:
        lines = lines_of(body)
        assert 3 <= len(lines) <= 4
        held = set(NUMBER.findall(rest_of(body)))
        assert set(NUMBER.findall(" ".join(lines))) <= held


def means_of(summary):
    """Every pair of means, as people write it."""
    values = {(one.name, one.period, one.day): one.value for one in summary.statistics}
    for (name, *place), value in values.items():
        if name in PARTNER:
            yield f"{value}/{values[PARTNER[name], *place]}"


@pytest.mark.parametrize("seed", range(24))
def test_the_result_takes_four_lines_at_most_with_the_numbers_of_the_summary(seed):
    _, summary, resources = generated(seed, load(None))
    (report,) = bodies(resources, "DiagnosticReport")
    told, (_, *shown) = report["conclusion"].split("\n"), lines_of(report)
    assert 1 <= len(told) <= len(shown) <= 4
    assert shown[: len(told)] == told
    pairs = PAIR.findall(" ".join(shown))
    assert set(pairs) <= set(means_of(summary))
    assert pairs or "Values and adequacy only" in shown[-1]


def test_a_reading_says_when_whether_asleep_and_how_much():
    first = bodies(composed(), "Observation", "85354-9")[0]
    assert lines_of(first) == [
        "Blood pressure",
        "2026-03-03T09:00:00+00:00, awake",
        "Systolic blood pressure 134 mmHg; Diastolic blood pressure 84 mmHg; Heart rate 74 /min",
    ]


def test_a_failed_attempt_says_so():
    (failed,) = [body for body in bodies(everything(), "Observation", "85354-9") if "E4" in str(body)]
    assert "Systolic blood pressure the attempt failed" in lines_of(failed)[2]


def test_what_an_export_says_acts_nowhere():
    readings = [replace(a_reading(), note="<script>x()</script> & <b>"), *readings_over()[1:]]
    made = composed(a_recording(readings, monitor=Monitor(model="<i>M</i>", serial="1 & 2")))
    assert check(made, all_codes()) == ()
    for item in made:
        assert "<script" not in item.body["text"]["div"]
        assert "<i>M" not in item.body["text"]["div"]

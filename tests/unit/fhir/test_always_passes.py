"""Whatever a recording looks like, what is composed of it passes the check and the FHIR models leave it whole."""

from datetime import timedelta
from decimal import Decimal
from functools import cache
from importlib import import_module

import orjson
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from gateway.analyse import summarise
from gateway.fhir import Rank, check, parsed, written
from gateway.fhir.rules.models import MODULES
from gateway.mapping.rules import Rules
from gateway.model import (
    Arm,
    Circumstances,
    HeartRateChoice,
    Monitor,
    ReadingsChoice,
    ReportChoice,
    Review,
    Tenths,
    Use,
    Verdict,
)
from gateway.settings import default_person_rules
from gateway.settings.maps import load
from gateway.validate import examine
from tests.builders import NOW, START, a_reading, a_recording
from tests.unit.analyse.examined import windows_of
from tests.unit.fhir.building import all_codes, composed

PRESSURES = st.tuples(st.integers(600, 2500), st.integers(300, 500), st.integers(300, 1900))
TEXT = st.text(st.characters(codec="utf-8", exclude_categories=["Cs"]), max_size=20)


@st.composite
def recordings(draw):
    attempts = draw(st.lists(st.none() | PRESSURES, min_size=1, max_size=30))
    readings = []
    for number, values in enumerate(attempts):
        at = START + timedelta(minutes=47 * number)
        if values is None:
            readings.append(a_reading(at, None, None, row=number + 1, failure=draw(TEXT)))
            continue
        pressures = [value / 10 for value in values]
        readings.append(a_reading(at, *pressures, row=number + 1, mean=Tenths(600), note=draw(st.none() | TEXT)))
    readings.append(a_reading(START + timedelta(hours=23, minutes=50), row=99))
    return a_recording(
        readings,
        monitor=Monitor(
            model=draw(st.none() | TEXT),
            serial=draw(st.none() | TEXT),
            cuff_size=draw(st.none() | TEXT),
            arm=draw(st.none() | st.sampled_from(Arm)),
        ),
        circumstances=Circumstances(order=draw(st.none() | TEXT)),
    )


@given(
    recording=recordings(),
    verdict=st.sampled_from(Verdict),
    filing=st.fixed_dictionaries(
        {
            "readings": st.sampled_from(ReadingsChoice),
            "heart_rate": st.sampled_from(HeartRateChoice),
            "report": st.sampled_from(ReportChoice),
            "report_binary": st.booleans(),
            "report_status": st.sampled_from(["preliminary", "final"]),
            "interpretation": st.booleans(),
            "snomed": st.booleans(),
        }
    ),
    review=st.sampled_from(
        [Review(), Review(rule="local", rows=(1,), sentence="Values above your local review limit.")]
    ),
)
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_what_is_composed_always_passes(recording, verdict, filing, review):
    reasons = () if verdict is Verdict.ADEQUATE else ("Too few readings.",)
    examined = {
        "windows": windows_of(a_recording()),
        "adequacy": {"verdict": verdict, "reasons": reasons},
        "review": review,
    }
    assert check(composed(recording, examined=examined, **filing), all_codes()) == ()


@given(recording=recordings(), readings=st.sampled_from(ReadingsChoice))
@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_what_validation_lets_through_always_passes(recording, readings):
    """By the real chain: validation judges every reading, the analysis sums up what it left."""
    examined = examine(recording, rules_of_the_house(), NOW)
    if examined.hold is None:
        summary = summarise(recording, examined, rules_of_the_house())
        made = composed(recording, summary, readings=readings)
        assert check(made, all_codes()) == ()
        assert len([item for item in made if item.rank is Rank.READING]) == wanted(examined, readings)


def wanted(examined, readings):
    valid = sum(judged.use is Use.VALID for judged in examined.judged)
    return {"valid": valid, "all": len(examined.judged), "none": 0}[readings.value]


@cache
def rules_of_the_house():
    maps = load(None)
    person = default_person_rules()
    return Rules(guideline=maps.guidelines["esc-2024"], limits=maps.limits["widest"], person=person)


def test_the_models_give_back_what_they_were_given():
    """fhir.resources R4B, dumped again: same elements, same numbers; it may only write +00:00 as Z."""
    for item in composed(report=ReportChoice.DOCUMENT_REFERENCE, report_binary=True):
        model = getattr(import_module(f"fhir.resources.R4B.{MODULES[item.type]}"), item.type)
        again = parsed(model.model_validate_json(written(item.body)).model_dump_json())
        assert normal(again) == normal(orjson.loads(written(item.body)))


def normal(value):
    if isinstance(value, dict):
        return {key: normal(item) for key, item in value.items()}
    if isinstance(value, list):
        return [normal(item) for item in value]
    if isinstance(value, str):
        return value.replace("+00:00", "Z")
    return Decimal(str(value)) if isinstance(value, int | float | Decimal) and not isinstance(value, bool) else value

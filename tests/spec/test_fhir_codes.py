"""The code files against the rules of the systems themselves, and all that is ever emitted against the files."""

import tomllib
from itertools import product
from uuid import UUID

import pytest

from gateway.model import (
    Arm,
    HeartRateChoice,
    Monitor,
    PeriodName,
    ReadingsChoice,
    ReportChoice,
    StatisticName,
    Unit,
    Verdict,
)
from tests.builders import a_recording
from tests.unit.fhir.building import MAPPINGS, all_codes, composed
from tests.unit.fhir.test_readings import mixed

LOINC, SNOMED = "http://loinc.org", "http://snomed.info/sct"


def codes_in(name: str) -> list[dict[str, str]]:
    return tomllib.loads((MAPPINGS / "codes" / name).read_text())["codes"]


def luhn(digits: str) -> int:
    """LOINC Users' Guide, appendix on check digits: mod 10, doubling every other digit from the right."""
    doubled = [int(digit) * (2 if place % 2 == 0 else 1) for place, digit in enumerate(reversed(digits))]
    return -sum(sum(divmod(number, 10)) for number in doubled) % 10


def dihedral(left: int, right: int) -> int:
    """Multiplication in the dihedral group D5."""
    if left < 5:
        return (left + right) % 5 if right < 5 else 5 + (left + right - 5) % 5
    return 5 + (left - 5 - right) % 5 if right < 5 else (left - right) % 5


def verhoeff(digits: str) -> int:
    """0 for a valid number (SNOMED CT Technical Implementation Guide, check digit; Verhoeff 1969)."""
    permutation = [list(range(10)), [1, 5, 7, 6, 2, 8, 3, 0, 9, 4]]
    for _ in range(6):
        permutation.append([permutation[1][value] for value in permutation[-1]])
    check = 0
    for place, digit in enumerate(reversed(digits)):
        check = dihedral(check, permutation[place % 8][int(digit)])
    return check


def test_the_check_digit_routines_know_right_from_wrong():
    assert luhn("85354") == 9  # 85354-9, FHIR R4 profile bp
    assert luhn("85345") != 9
    assert verhoeff("75367002") == 0  # AU Core blood pressure
    assert verhoeff("75376002") != 0


# parts of LOINC (LP…) are numbered by another rule
@pytest.mark.parametrize("code", [item["code"] for item in codes_in("loinc.toml") if item["code"][0].isdigit()])
def test_loinc_codes_have_their_check_digit(code):
    number, _, digit = code.rpartition("-")
    assert luhn(number) == int(digit)


@pytest.mark.parametrize("code", [item["code"] for item in codes_in("snomed.toml")])
def test_snomed_codes_have_their_check_digit(code):
    assert verhoeff(code) == 0


@pytest.mark.parametrize("unit", [*[unit.value for unit in Unit], "cm"])
def test_every_unit_has_a_ucum_code(unit):
    assert all_codes().coding(f"ucum:{unit}").code == unit


@pytest.mark.parametrize("name", StatisticName)
def test_every_statistic_has_a_code_of_ours_and_a_text(name):
    meaning = all_codes().meaning(name.value, licensed=False)
    assert meaning.codings[0].code == name.value
    assert meaning.codings[0].system.startswith("urn:oid:2.25.")
    assert meaning.text


def test_our_system_is_an_oid_made_from_a_uuid():
    """ITU-T X.667: 2.25 and the UUID as one decimal number."""
    number = int(all_codes().systems["own"].system.removeprefix("urn:oid:2.25."))
    assert UUID(int=number).version == 4


def test_no_code_of_ours_stands_twice():
    codes = [item["code"] for item in codes_in("own.toml")]
    assert len(codes) == len(set(codes))


def emitted(value):
    if isinstance(value, dict):
        if "system" in value and "code" in value:
            yield value["system"], value["code"], value.get("display", value.get("unit"))
        for item in value.values():
            yield from emitted(item)
    elif isinstance(value, list | tuple):
        for item in value:
            yield from emitted(item)


def every_kind_of_result():
    recording, examined = mixed()
    everything = {"examined": examined, "readings": ReadingsChoice.ALL}
    fitted = a_recording(monitor=Monitor(model="M", serial="S", arm=Arm.RIGHT, cuff_size="adult"))
    for snomed, heart_rate in product((False, True), HeartRateChoice):
        yield composed(recording, snomed=snomed, heart_rate=heart_rate, **everything)
        yield composed(fitted, snomed=snomed, report=ReportChoice.DOCUMENT_REFERENCE)
    yield composed(examined={"adequacy": {"verdict": Verdict.NOT_ADEQUATE, "reasons": ("Too few.",)}}, snomed=True)


def test_every_coding_ever_emitted_is_declared_verified_and_rightly_named():
    approved = all_codes().approved()
    seen = {
        found
        for made in every_kind_of_result()
        for item in made
        for found in emitted(item.body)
        if found[0] != "urn:ietf:rfc:3986"
    }
    assert len(seen) > 90
    for system, code, display in seen:
        assert approved[system, code] == display
    loinc = {code for system, code, _ in seen if system == LOINC}
    assert {"85354-9", "8480-6", "8462-4", "8867-4", "96607-7", "97844-5", "8490-5", "8472-3"} <= loinc
    # not seen in any source, a 12-hour maximum, discouraged: never sent
    assert loinc.isdisjoint({"8467-3", "8477-2", "8484-8", "55284-4"})


def test_nothing_of_snomed_is_sent_without_a_licence():
    for made in (composed(), composed(report=ReportChoice.DOCUMENT_REFERENCE)):
        assert all(found[0] != SNOMED for item in made for found in emitted(item.body))


@pytest.mark.parametrize("period", PeriodName)
def test_every_period_has_its_concepts(period):
    for part in ("panel", "systolic-mean", "diastolic-mean", "heart-rate-mean"):
        assert all_codes().meaning(f"{period.value}-{part}", licensed=False).codings

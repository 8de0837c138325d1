"""The NHS number by its published rule, and birth dates.

NHS Data Dictionary, NHS NUMBER: ten digits; the first nine weighted 10 to 2, remainder of the sum by 11 taken from 11
is the check digit; 11 becomes 0, 10 is never issued. 999 000 0000 to 999 999 9999 are test numbers.
"""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gateway.model import HoldReason, Identifier, Severity
from gateway.validate import canonical
from gateway.validate.number import passes
from tests.builders import NHS, START, a_person, a_recording
from tests.unit.validate.ruling import PERSON, examined, found


def check_digit(nine: str) -> int | None:
    rest = 11 - sum(int(digit) * weight for digit, weight in zip(nine, range(10, 1, -1), strict=True)) % 11
    return {11: 0, 10: None}.get(rest, rest)


def held(number: str | None, system: str = NHS, production: bool = False) -> HoldReason | None:
    person = a_person(identifier=None if number is None else Identifier(system, number))
    hold = examined(a_recording(person=person), person=replace(PERSON, production=production)).hold
    return hold.reason if hold else None


@settings(max_examples=30, deadline=None)
@given(st.from_regex(r"999[0-9]{6}", fullmatch=True))
def test_only_the_published_check_digit_passes(nine: str) -> None:
    right = check_digit(nine)
    for digit in range(10):
        number = f"{nine}{digit}"
        expected = None if digit == right and len(set(number)) > 1 else HoldReason.IDENTIFIER_INVALID
        assert held(number) is expected


@pytest.mark.parametrize("number", ["9990000018", "9990000026", "9990000034", "9990000042", "999 000 0018"])
def test_published_test_numbers(number: str) -> None:
    assert held(number) is None
    assert held(number, production=True) is HoldReason.IDENTIFIER_TEST
    result = examined(a_recording(person=a_person(identifier=Identifier(NHS, number))))
    assert [f.severity for f in result.findings if f.rule == "identifier-test"] == [Severity.NOTE]


@pytest.mark.parametrize("number", [None, "", "   ", "\t", "-", "---", "N/A", "n.a.", "unknown", "none", "NULL"])
def test_no_usable_number(number: str | None) -> None:
    assert held(number) is HoldReason.IDENTIFIER_MISSING


@pytest.mark.parametrize("number", ["0000000000", "1111111111", "000 000 0000", "9999999999", "0"])
def test_fillers_are_no_numbers(number: str) -> None:
    """1111111111 and its like satisfy the check digit of some systems and belong to nobody."""
    assert held(number) is HoldReason.IDENTIFIER_INVALID


@pytest.mark.parametrize("number", ["999000001", "99900000180", "9990000019", "999000001X", "٩٩٩٠٠٠٠٠١٨"])
def test_wrong_form_or_digit(number: str) -> None:
    assert held(number) is HoldReason.IDENTIFIER_INVALID


def test_a_system_that_nobody_configured() -> None:
    assert held("9990000018", "urn:example:unknown") is HoldReason.IDENTIFIER_SYSTEM_UNKNOWN
    assert held("9990000018", "") is HoldReason.IDENTIFIER_SYSTEM_UNKNOWN


@pytest.mark.parametrize(
    ("number", "reason"), [("0012345678", None), ("AB-7", None), ("0000", HoldReason.IDENTIFIER_INVALID)]
)
def test_a_local_number_without_a_check(number: str, reason: HoldReason | None) -> None:
    local = "urn:example:local"
    person = a_person(identifier=Identifier(local, number))
    hold = examined(a_recording(person=person), person=replace(PERSON, systems={local: ""})).hold
    assert (hold.reason if hold else None) is reason


@pytest.mark.parametrize(
    ("value", "good"),
    [("AB123456", True), ("AB 123-456", True), ("AB12345", False), ("XAB123456", False), ("ab123456", False)],
)
def test_a_number_that_the_site_describes_itself(value: str, good: bool) -> None:
    """Common practice: a hospital number of letters and digits without a check digit."""
    own = {"urn:example:hospital": r"pattern:[A-Z]{2}\d{6}"}
    number = canonical(Identifier("urn:example:hospital", value), own)
    assert passes(number, own) is good
    assert number.value == value.replace(" ", "").replace("-", "")


def test_a_check_digit_alone_is_enough_for_a_kind_without_a_form() -> None:
    """Luhn, ISO/IEC 7812-1 annex B; 79927398713 is the usual worked example (from memory)."""
    own = {"urn:example:card": "luhn"}
    assert passes(canonical(Identifier("urn:example:card", "79927398713"), own), own)
    assert not passes(canonical(Identifier("urn:example:card", "79927398714"), own), own)


def test_a_person_number_can_never_be_let_pass() -> None:
    for number in (None, "9990000019", "0000000000"):
        person = a_person(identifier=None if number is None else Identifier(NHS, number))
        everything = ["identifier-missing", "identifier-invalid", "identifier-test", ""]
        hold = examined(a_recording(person=person), waived=everything).hold
        assert hold is not None
        assert hold.rule == ""


@pytest.mark.parametrize(
    ("value", "form"), [("999 000 0018", "9990000018"), ("999-000-0018", "9990000018"), ("9990000018", "9990000018")]
)
def test_canonical_form(value: str, form: str) -> None:
    assert canonical(Identifier(NHS, value), PERSON.systems) == Identifier(NHS, form)


def test_a_number_without_a_check_keeps_its_leading_zeros() -> None:
    local = Identifier("urn:example:local", "00 123-4")
    assert canonical(local, {"urn:example:local": ""}) == local


WORN = START.date()


@pytest.mark.parametrize(
    ("born", "reason"),
    [
        (None, HoldReason.BIRTH_DATE_MISSING),
        (date(1961, 4, 9), None),
        (WORN, None),
        (WORN + timedelta(days=1), HoldReason.BIRTH_DATE_DOUBTFUL),
        (date(2099, 1, 1), HoldReason.BIRTH_DATE_DOUBTFUL),
        (WORN.replace(year=WORN.year - 121), HoldReason.BIRTH_DATE_DOUBTFUL),
        (WORN.replace(year=WORN.year - 121) + timedelta(days=1), None),
    ],
)
def test_birth_dates(born: date | None, reason: HoldReason | None) -> None:
    hold = examined(a_recording(person=a_person(birth_date=born))).hold
    assert (hold.reason if hold else None) is reason


def test_a_site_may_choose_the_number_alone() -> None:
    result = examined(a_recording(person=a_person(birth_date=None)), person=replace(PERSON, birth_date_needed=False))
    assert result.hold is None
    assert "age-unknown" in found(result)


@pytest.mark.parametrize(
    ("born", "low", "site"),
    [
        (date(2008, 3, 3), False, None),
        (date(2008, 3, 4), True, None),
        (date(1986, 3, 3), False, 40),
        (date(1986, 3, 4), True, 40),
        (date(2010, 3, 3), True, 12),  # a site may raise the lowest age, never lower it
    ],
)
def test_below_the_lowest_age_is_said_and_not_held(born: date, low: bool, site: int | None) -> None:
    result = examined(a_recording(person=a_person(birth_date=born)), lowest_age=site)
    assert result.hold is None
    assert ("age-too-low" in found(result)) is low


@pytest.mark.parametrize(("on", "years"), [(date(2022, 2, 28), 17), (date(2022, 3, 1), 18)])
def test_a_leap_day_birthday(on: date, years: int) -> None:
    from gateway.validate.person import age

    assert age(date(2004, 2, 29), on) == years

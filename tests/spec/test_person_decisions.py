"""Evidence -> decision: may this recording be filed in this person's record? One row for each kind of evidence.

Sources, by their sign in the rows:
NHS  NHS Data Dictionary, NHS NUMBER: ten digits, the last a modulus 11 check digit; 999 numbers are for tests
R4   HL7 FHIR R4 (4.0.1): Patient (active, deceased[x], link), Identifier (use, period), search (token)
OWN  the strictness that this gateway chose; common practice in identity checks (two identifiers must agree)
"""

import itertools
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from typing import Any

import pytest

from gateway.deliver.person import Ours, accept, follow, one_of
from gateway.fhir.patients import Candidate, candidate
from gateway.mapping.rules import PersonRules
from gateway.model import Hold, Identifier, Person
from gateway.settings.destination import Match
from gateway.validate.case import Case, Doubt
from gateway.validate.number import canonical
from gateway.validate.person import PERSON_RULES
from tests.builders import a_recording
from tests.unit.validate.ruling import rules

NHS = "https://fhir.nhs.uk/Id/nhs-number"
NUMBER = "9990000018"
NOW = datetime(2026, 3, 5, 12, tzinfo=UTC)
RULES = PersonRules(systems={NHS: "gb.nhs"}, test_numbers={NHS: r"999\d{7}"})
PERSON = Person(
    identifier=Identifier(NHS, NUMBER), family_name="Zztestname", given_name="Alex", birth_date=date(1961, 4, 9)
)
PATIENT: dict[str, Any] = {
    "resourceType": "Patient",
    "id": "1",
    "active": True,
    "identifier": [{"system": NHS, "value": NUMBER}],
    "name": [{"family": "Zztestname", "given": ["Alex"]}],
    "birthDate": "1961-04-09",
}
RECORDING = a_recording()
FILED = None


def patient(**changes: Any) -> dict[str, Any]:
    """The right person as a server tells of them, changed; None takes an element away."""
    return {key: value for key, value in {**PATIENT, **changes}.items() if value is not None}


def numbered(value: str = NUMBER, system: str = NHS, **more: Any) -> dict[str, Any]:
    return patient(identifier=[{"system": system, "value": value, **more}])


def named(family: str | None, *given: str) -> dict[str, Any]:
    return patient(name=[{"family": family, "given": list(given)}])


@dataclass(frozen=True)
class Row:
    """`answer` are the entries of the search, `others` what is read when a link is followed."""

    what: str
    source: str
    decision: str | None
    answer: tuple[dict[str, Any], ...] = (PATIENT,)
    person: Person = PERSON
    strictness: Match = Match.BIRTH_DATE
    others: dict[str, dict[str, Any]] = field(default_factory=dict)
    production: bool = False


def of_number(value: str) -> Person:
    return replace(PERSON, identifier=Identifier(NHS, value))


def of_name(family: str | None, given: str | None) -> Person:
    return replace(PERSON, family_name=family, given_name=given)


OLD = patient(id="old", active=False, link=[{"type": "replaced-by", "other": {"reference": "Patient/new"}}])
NEW = patient(id="new", link=[{"type": "replaces", "other": {"reference": "Patient/old"}}])
NOTHING = "person-not-found"
DOUBTFUL = "person-answer-doubtful"
MISMATCH = "person-mismatch"
MISSING = "birth-date-missing"
INVALID = "identifier-invalid"
TABLE = (
    # the number in the file
    Row("a number with a right check digit", "NHS", FILED),
    Row("written in groups with blanks", "NHS", FILED, person=of_number("999 000 0018")),
    Row("written in groups with hyphens", "NHS", FILED, person=of_number("999-000-0018")),
    Row("blanks that do not break", "OWN", FILED, person=of_number("999\u00a0000\u00a00018")),
    Row("a zero-width space copied along", "OWN", FILED, person=of_number("9990000018\u200b")),
    Row("a byte order mark copied along", "OWN", FILED, person=of_number("\ufeff9990000018")),
    Row("marks of direction copied along", "OWN", FILED, person=of_number("\u202d9990000018\u202c")),
    Row("a soft hyphen copied along", "OWN", FILED, person=of_number("999000\u00ad0018")),
    Row("digits of full width", "OWN", FILED, person=of_number("９９９００００018")),
    Row("Arabic-Indic digits", "OWN", FILED, person=of_number("٩٩٩٠٠٠٠٠١٨")),
    Row("another last digit", "NHS", INVALID, person=of_number("9990000019")),
    Row("two digits exchanged", "NHS", INVALID, person=of_number("9990000081")),
    Row("a digit too few", "NHS", INVALID, person=of_number("999000001")),
    Row("a digit too many", "NHS", INVALID, person=of_number("99900000188")),
    Row("the letter O for a zero", "NHS", INVALID, person=of_number("999O000018")),
    Row("the letter l for a one", "NHS", INVALID, person=of_number("99900000l8")),
    Row("ten zeros", "OWN", INVALID, person=of_number("0000000000")),
    Row("one digit ten times", "OWN", INVALID, person=of_number("1111111111")),
    Row("nothing but blanks", "OWN", "identifier-missing", person=of_number("   ")),
    Row("a word for none", "OWN", "identifier-missing", person=of_number("n/a")),
    Row("a hyphen", "OWN", "identifier-missing", person=of_number("-")),
    Row("no number at all", "OWN", "identifier-missing", person=replace(PERSON, identifier=None)),
    Row(
        "a system that the site does not know",
        "OWN",
        "identifier-system-unknown",
        person=replace(PERSON, identifier=Identifier("urn:oid:1.2", NUMBER)),
    ),
    Row("a test number in production", "NHS", "identifier-test", production=True),
    Row("another valid number in the file", "OWN", DOUBTFUL, person=of_number("9990000026")),
    # the birth date
    Row("another day", "OWN", MISMATCH, (patient(birthDate="1961-04-10"),)),
    Row("day and month exchanged", "OWN", MISMATCH, (patient(birthDate="1961-09-04"),)),
    Row("another century", "OWN", MISMATCH, (patient(birthDate="2061-04-09"),)),
    Row("another year", "OWN", MISMATCH, (patient(birthDate="1960-04-09"),)),
    Row("none in the record", "R4", MISSING, (patient(birthDate=None),)),
    Row("only a year in the record", "R4", MISSING, (patient(birthDate="1961"),)),
    Row("only year and month in the record", "R4", MISSING, (patient(birthDate="1961-04"),)),
    Row("none in the file", "OWN", MISSING, person=replace(PERSON, birth_date=None)),
    Row("in the future", "OWN", "birth-date-doubtful", person=replace(PERSON, birth_date=date(2030, 1, 1))),
    Row("130 years ago", "OWN", "birth-date-doubtful", person=replace(PERSON, birth_date=date(1896, 1, 1))),
    Row("number alone: none in the record", "OWN", FILED, (patient(birthDate=None),), strictness=Match.IDENTIFIER),
    Row("number alone: a year that agrees", "OWN", FILED, (patient(birthDate="1961"),), strictness=Match.IDENTIFIER),
    Row(
        "number alone: a year that differs",
        "OWN",
        MISMATCH,
        (patient(birthDate="1962"),),
        strictness=Match.IDENTIFIER,
    ),
    Row(
        "number alone: a day that differs",
        "OWN",
        MISMATCH,
        (patient(birthDate="1961-04-08"),),
        strictness=Match.IDENTIFIER,
    ),
    # the name
    Row("new family name", "OWN", FILED, (named("Married", "Alex"),)),
    Row(
        "maiden name among the old ones",
        "R4",
        FILED,
        (patient(name=[{"family": "New"}, {"use": "maiden", "family": "Zztestname"}]),),
    ),
    Row("called by another given name", "OWN", FILED, (named("Zztestname", "Robin"),)),
    Row("family and given name both differ", "OWN", MISMATCH, (named("Another", "Robin"),)),
    Row("family and given name exchanged", "OWN", FILED, (named("Alex", "Zztestname"),)),
    Row("no name in the record", "R4", FILED, (patient(name=None),)),
    Row("no name in the file", "OWN", FILED, person=of_name(None, None)),
    Row("capitals", "OWN", FILED, (named("ZZTESTNAME", "ALEX"),)),
    Row("accents left out", "OWN", FILED, (named("MULLER", "Renee"),), of_name("Müller", "Renée")),
    Row("umlauts written out", "OWN", FILED, (named("Mueller", "Joerg"),), of_name("Müller", "Jörg")),
    Row("a barred letter left bare", "OWN", FILED, (named("Sorensen", "Lukasz"),), of_name("Sørensen", "Łukasz")),
    Row(
        "a hyphen or a blank",
        "OWN",
        FILED,
        (named("Smith Jones", "Anne Marie"),),
        of_name("Smith-Jones", "Anne-Marie"),
    ),
    Row("name too: it agrees", "OWN", FILED, strictness=Match.NAME),
    Row("name too: one name differs", "OWN", MISMATCH, (named("Married", "Alex"),), strictness=Match.NAME),
    Row("name too: none in the record", "OWN", MISMATCH, (patient(name=None),), strictness=Match.NAME),
    Row("name too: exchanged", "OWN", MISMATCH, (named("Alex", "Zztestname"),), strictness=Match.NAME),
    # the answer
    Row("nobody", "R4", NOTHING, ()),
    Row("two people with the number", "OWN", "person-several", (PATIENT, patient(id="2"))),
    Row("everybody, as the parameter was ignored", "R4", DOUBTFUL, (PATIENT, numbered("9990000026"))),
    Row("somebody else only", "R4", DOUBTFUL, (numbered("9990000026"),)),
    Row("a number with a blank", "R4", DOUBTFUL, (numbered("999 000 0018"),)),
    Row("the number in another system", "R4", DOUBTFUL, (numbered(system="urn:oid:1.2"),)),
    Row("the system in other letters", "R4", DOUBTFUL, (numbered(system=NHS.lower()),)),
    Row("nobody's number", "R4", DOUBTFUL, (patient(identifier=None),)),
    Row("an old number", "R4", NOTHING, (numbered(use="old"),)),
    Row("a number whose period has ended", "R4", NOTHING, (numbered(period={"end": "2026-03-04"}),)),
    Row("a number whose period is to come", "R4", NOTHING, (numbered(period={"start": "2026-03-06"}),)),
    Row(
        "a number whose period covers today",
        "R4",
        FILED,
        (numbered(period={"start": "2026-03-05", "end": "2026-03-05"}),),
    ),
    Row("a period that nobody can read", "R4", NOTHING, (numbered(period={"start": "some day"}),)),
    Row(
        "the number passed on to another person",
        "R4",
        FILED,
        (patient(id="2", identifier=[{"system": NHS, "value": NUMBER, "use": "old"}]), PATIENT),
    ),
    # the state of the entry
    Row("active is not said", "R4", FILED, (patient(active=None),)),
    Row("inactive", "R4", "person-inactive", (patient(active=False),)),
    Row("active is no truth value", "R4", "person-inactive", (patient(active="true"),)),
    Row("died, no day", "R4", "person-deceased", (patient(deceasedBoolean=True),)),
    Row("not died", "R4", FILED, (patient(deceasedBoolean=False),)),
    Row("died before the recording ended", "OWN", "person-deceased", (patient(deceasedDateTime="2026-03-01"),)),
    Row("died in that month", "OWN", "person-deceased", (patient(deceasedDateTime="2026-03"),)),
    Row("died later", "OWN", FILED, (patient(deceasedDateTime="2026-03-05T08:00:00Z"),)),
    Row("a day of death that nobody can read", "OWN", "person-deceased", (patient(deceasedDateTime="lately"),)),
    # merged entries
    Row("replaced, and the new entry links back", "R4", FILED, (OLD,), others={"new": NEW}),
    Row(
        "replaced, the new entry does not link back",
        "R4",
        "person-inactive",
        (OLD,),
        others={"new": patient(id="new")},
    ),
    Row(
        "replaced by an entry of another birth date",
        "OWN",
        MISMATCH,
        (OLD,),
        others={"new": {**NEW, "birthDate": "1961-04-08"}},
    ),
    Row("replaced by an inactive entry", "R4", "person-inactive", (OLD,), others={"new": {**NEW, "active": False}}),
    Row(
        "replaced twice over",
        "OWN",
        "person-inactive",
        (OLD,),
        others={"new": {**NEW, "link": [*NEW["link"], *OLD["link"]]}},
    ),
    Row(
        "replaced by somebody who died",
        "OWN",
        "person-deceased",
        (OLD,),
        others={"new": {**NEW, "deceasedBoolean": True}},
    ),
)


def decided(row: Row) -> str | None:
    """None: it is filed."""
    person = row.person
    if person.identifier is not None:
        person = replace(person, identifier=canonical(person.identifier, RULES.systems))
    needed = row.strictness is not Match.IDENTIFIER
    strict = replace(RULES, production=row.production, birth_date_needed=needed)
    case = Case(recording=replace(RECORDING, person=person), rules=rules(person=strict), now=NOW, judged=())
    for rule in PERSON_RULES:
        for found in rule(case):
            if isinstance(found, Doubt):
                return found.reason.value
    assert person.identifier is not None
    ours = Ours(
        person=person,
        number=person.identifier,
        ended=datetime(2026, 3, 4, 9, tzinfo=UTC),
        today=date(2026, 3, 5),
        strictness=row.strictness,
    )
    return _asked(row, ours)


def _asked(row: Row, ours: Ours) -> str | None:
    read = [candidate(body) for body in row.answer]
    found = one_of([each for each in read if each is not None], ours)
    if isinstance(found, Hold):
        return found.reason.value
    hold = follow(found, _read(row, found.replaced_by[0]), ours) if found.replaced_by else accept(found, ours)
    return hold.reason.value if hold else FILED


def _read(row: Row, entry: str) -> Candidate:
    found = candidate(row.others[entry])
    assert found is not None
    return found


@pytest.mark.parametrize("row", TABLE, ids=lambda row: row.what)
def test_the_decision(row: Row) -> None:
    assert decided(row) == row.decision


def test_the_table_is_whole() -> None:
    """At least sixty rows, no two of one name, and both ends of it."""
    assert len(TABLE) >= 60
    assert len({row.what for row in TABLE}) == len(TABLE)
    assert {row.source for row in TABLE} == {"NHS", "R4", "OWN"}
    assert sum(row.decision is FILED for row in TABLE) >= 20


SIGNS = "0123456789-/ aAlO|\u200b"


def one_sign_changed(text: str) -> Iterator[str]:
    """Every text that differs in one sign: replaced, left out, or put in."""
    for place in range(len(text) + 1):
        for sign in SIGNS:
            yield text[:place] + sign + text[place:]
        if place < len(text):
            yield text[:place] + text[place + 1 :]
            yield from (text[:place] + sign + text[place + 1 :] for sign in SIGNS if sign != text[place])


def texts_of(body: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], str]]:
    """Every text in an answer, with its place."""
    if isinstance(body, str):
        yield path, body
    elif isinstance(body, dict | list):
        for key, value in body.items() if isinstance(body, dict) else enumerate(body):
            yield from texts_of(value, (*path, key))


def changed(body: dict[str, Any], path: tuple[Any, ...], text: str) -> dict[str, Any]:
    new = deepcopy(body)
    place: Any = new
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = text
    return new


TWIN = Person(
    identifier=Identifier(NHS, "9990000026"),
    family_name="Zztestname",
    given_name="Robin",
    birth_date=date(1961, 4, 9),
)
NAMESAKE = Person(
    identifier=Identifier(NHS, "9990000034"), family_name="Zztestname", given_name="Alex", birth_date=date(1961, 4, 8)
)
STRANGER = Person(
    identifier=Identifier(NHS, "9990000042"), family_name="Other", given_name="Sam", birth_date=date(1990, 12, 31)
)


@pytest.mark.parametrize("other", [TWIN, NAMESAKE, STRANGER], ids=["twin", "namesake", "stranger"])
@pytest.mark.parametrize("strictness", Match)
def test_no_change_of_one_sign_files_anothers_recording_here(other: Person, strictness: Match) -> None:
    """In the number of the file, in its birth date, or in anything that the server said: no other person's recording
    becomes this one's. Two valid NHS numbers differ in two digits at least, as the modulus 11 digit finds every
    change of one; so one slip is never enough.
    """
    row = Row("", "", None, person=other, strictness=strictness)
    assert decided(row) is not FILED
    number = other.identifier.value if other.identifier else ""
    for value in one_sign_changed(number):
        assert decided(replace(row, person=replace(other, identifier=Identifier(NHS, value)))) is not FILED
    for born in dates_near(other.birth_date):
        assert decided(replace(row, person=replace(other, birth_date=born))) is not FILED
    for path, text in texts_of(PATIENT):
        for new in one_sign_changed(text):
            assert decided(replace(row, answer=(changed(PATIENT, path, new),))) is not FILED


def dates_near(born: date | None) -> Iterator[date]:
    assert born is not None
    for text in set(one_sign_changed(born.isoformat())):
        try:
            yield date.fromisoformat(text)
        except ValueError:
            continue


@pytest.mark.parametrize("strictness", [Match.BIRTH_DATE, Match.NAME])
def test_a_match_does_not_survive_a_change_of_one_sign_in_number_or_birth_date(strictness: Match) -> None:
    """Whatever sign changes, in the file or in the answer: the two no longer agree, and it is held. Signs that only
    part or pad the number in the file are the same number.
    """
    row = Row("", "", None, strictness=strictness)
    for value in one_sign_changed(NUMBER):
        same = canonical(Identifier(NHS, value), RULES.systems).value == NUMBER
        found = decided(replace(row, person=of_number(value)))
        assert (found is FILED) == same, ascii(value)
    for born in dates_near(PERSON.birth_date):
        found = decided(replace(row, person=replace(PERSON, birth_date=born)))
        assert (found is FILED) == (born == PERSON.birth_date)
    for path, text in itertools.chain(texts_of(PATIENT["identifier"]), [((), PATIENT["birthDate"])]):
        where = ("identifier", *path) if path else ("birthDate",)
        for new in one_sign_changed(text):
            assert (decided(replace(row, answer=(changed(PATIENT, where, new),))) is FILED) == (new == text)

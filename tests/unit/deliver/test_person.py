"""The strict decision: who on the server is the person of the recording."""

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import pytest

from gateway.deliver.person import DECEASED_RULE, NAME_RULE, Candidate, Number, Ours, accept, follow, one_of
from gateway.model import Hold, HoldReason, Identifier, Person
from gateway.settings.destination import Match

NHS = "https://fhir.nhs.uk/Id/nhs-number"
OURS = Ours(
    person=Person(
        identifier=Identifier(NHS, "9990000018"),
        family_name="Zztestname",
        given_name="Alex",
        birth_date=date(1961, 4, 9),
    ),
    number=Identifier(NHS, "9990000018"),
    ended=datetime(2026, 3, 4, 9, 0, tzinfo=UTC),
    today=date(2026, 3, 5),
    strictness=Match.BIRTH_DATE,
)


def someone(**changes: Any) -> Candidate:
    return replace(
        Candidate(
            id="1",
            numbers=(Number(system=NHS, value="9990000018"),),
            birth_date="1961-04-09",
            names=(("Zztestname", ("Alex",)),),
        ),
        **changes,
    )


def numbered(**changes: Any) -> Candidate:
    return someone(numbers=(replace(Number(system=NHS, value="9990000018"), **changes),))


def reason(found: Candidate | Hold | None) -> HoldReason | None:
    return found.reason if isinstance(found, Hold) else None


def test_exactly_one_with_the_number_is_found() -> None:
    assert one_of([someone()], OURS) == someone()
    assert accept(someone(), OURS) is None


def test_nobody() -> None:
    assert reason(one_of([], OURS)) is HoldReason.PERSON_NOT_FOUND


def test_two() -> None:
    assert reason(one_of([someone(), someone(id="2")], OURS)) is HoldReason.PERSON_SEVERAL


@pytest.mark.parametrize(
    "changes",
    [
        {"value": "9990000018 "},
        {"value": "９９９００００018"},
        {"value": "0999000001"},
        {"system": "https://fhir.nhs.uk/id/nhs-number"},
        {"system": ""},
    ],
    ids=["space", "other digits", "another", "case of the system", "no system"],
)
def test_the_number_must_be_equal_byte_for_byte(changes: dict[str, str]) -> None:
    """Case: searches that fold case or accents return a near match."""
    assert reason(one_of([numbered(**changes)], OURS)) is HoldReason.PERSON_ANSWER_DOUBTFUL


def test_case_of_letters_counts() -> None:
    ours = replace(OURS, number=Identifier(NHS, "AB12"))
    assert reason(one_of([numbered(value="ab12")], ours)) is HoldReason.PERSON_ANSWER_DOUBTFUL


def test_anybody_else_in_the_answer_makes_all_of_it_doubtful() -> None:
    """Case: a parameter is dropped and everybody is returned, the right one among them."""
    assert reason(one_of([someone(), numbered(value="x")], OURS)) is HoldReason.PERSON_ANSWER_DOUBTFUL


def test_an_old_number_does_not_count() -> None:
    assert reason(one_of([numbered(use="old")], OURS)) is HoldReason.PERSON_NOT_FOUND


def test_a_number_that_moved_on_belongs_to_its_present_owner() -> None:
    assert one_of([numbered(use="old"), someone(id="2")], OURS) == someone(id="2")


@pytest.mark.parametrize(
    ("begins", "ends", "counts"),
    [
        (None, None, True),
        ("2026-03-05", None, True),
        ("2026-03-06", None, False),
        (None, "2026-03-05", True),
        (None, "2026-03-04T23:59:59Z", False),
        ("2026", "2026", True),
        ("2026-03", "2026-03", True),
        ("2027", None, False),
        (None, "2026-02", False),
        ("sometime", None, False),
    ],
)
def test_the_period_of_the_number_covers_today(begins: str | None, ends: str | None, counts: bool) -> None:
    assert isinstance(one_of([numbered(begins=begins, ends=ends)], OURS), Candidate) == counts


def test_inactive() -> None:
    assert reason(accept(someone(active=False), OURS)) is HoldReason.PERSON_INACTIVE


@pytest.mark.parametrize("theirs", ["1961-04-10", "1961-09-04", "2061-04-09"])
@pytest.mark.parametrize("strictness", Match)
def test_another_birth_date_is_another_person(theirs: str, strictness: Match) -> None:
    ours = replace(OURS, strictness=strictness)
    assert reason(accept(someone(birth_date=theirs), ours)) is HoldReason.PERSON_MISMATCH


@pytest.mark.parametrize("theirs", [None, "", "1961", "1961-04"])
def test_a_missing_or_partial_birth_date_holds(theirs: str | None) -> None:
    assert reason(accept(someone(birth_date=theirs), OURS)) is HoldReason.BIRTH_DATE_MISSING


def test_a_birth_date_that_the_file_does_not_have_holds() -> None:
    ours = replace(OURS, person=replace(OURS.person, birth_date=None))
    assert reason(accept(someone(), ours)) is HoldReason.BIRTH_DATE_MISSING
    assert accept(someone(), replace(ours, strictness=Match.IDENTIFIER)) is None


def test_a_site_may_choose_the_number_alone() -> None:
    ours = replace(OURS, strictness=Match.IDENTIFIER)
    assert accept(someone(birth_date="1961"), ours) is None
    assert reason(accept(someone(birth_date="1962"), ours)) is HoldReason.PERSON_MISMATCH


def test_both_names_differing_hold_even_with_the_right_birth_date() -> None:
    other = someone(names=(("Another", ("Robin",)),))
    hold = accept(other, OURS)
    assert reason(hold) is HoldReason.PERSON_MISMATCH
    assert hold is not None
    assert hold.rule == NAME_RULE
    assert accept(other, replace(OURS, waived=frozenset({NAME_RULE}))) is None


@pytest.mark.parametrize(
    "names",
    [
        (("Married", ("Alex",)),),
        (("Zztestname", ("Robin",)),),
        (("ZZTESTNAME", ("A", "B")),),
        (("Other", ("Robin",)), ("Zztestname", ("Alex",))),
        (("", ("Robin",)),),
        (),
    ],
    ids=["new family name", "other given name", "case", "one of two names", "no family name", "none"],
)
def test_one_name_that_differs_or_is_missing_is_no_obstacle(names: Any) -> None:
    assert accept(someone(names=names), OURS) is None


def test_accents_and_hyphens_are_no_difference() -> None:
    ours = replace(OURS, person=replace(OURS.person, family_name="Müller-Lüdenscheid", given_name="Jean Paul"))
    assert accept(someone(names=(("MULLER LUDENSCHEID", ("Jean-Paul",)),)), ours) is None


@pytest.mark.parametrize("names", [(), (("Zztestname", ()),), (("Married", ("Alex",)),)])
def test_a_site_may_ask_for_the_name_too(names: Any) -> None:
    ours = replace(OURS, strictness=Match.NAME)
    assert accept(someone(), ours) is None
    assert reason(accept(someone(names=names), ours)) is HoldReason.PERSON_MISMATCH


@pytest.mark.parametrize(
    ("deceased", "holds"),
    [
        (False, False),
        (True, True),
        ("2026-03-01", True),
        ("2026-03-04", True),
        ("2026-03-05T08:00:00Z", False),
        ("2026-03", True),
        ("2026-04", False),
        ("unreadable", True),
    ],
)
def test_who_had_died_before_the_recording_ended_holds(deceased: bool | str, holds: bool) -> None:
    hold = accept(someone(deceased=deceased), OURS)
    assert reason(hold) is (HoldReason.PERSON_DECEASED if holds else None)
    assert accept(someone(deceased=deceased), replace(OURS, waived=frozenset({DECEASED_RULE}))) is None


OLD = someone(id="old", active=False, replaced_by=("new",))
NEW = someone(id="new", replaces=("old",))


def test_a_replaced_entry_is_followed_once() -> None:
    assert follow(OLD, NEW, OURS) is None


@pytest.mark.parametrize(
    ("new", "expected"),
    [
        (replace(NEW, replaces=()), HoldReason.PERSON_INACTIVE),
        (replace(NEW, active=False), HoldReason.PERSON_INACTIVE),
        (replace(NEW, replaced_by=("third",)), HoldReason.PERSON_INACTIVE),
        (replace(NEW, birth_date="1961-04-10"), HoldReason.PERSON_MISMATCH),
        (replace(NEW, birth_date=None), HoldReason.PERSON_MISMATCH),
    ],
    ids=["no link back", "inactive", "replaced again", "another birth date", "no birth date"],
)
def test_a_doubtful_replacement_is_not_followed(new: Candidate, expected: HoldReason) -> None:
    assert reason(follow(OLD, new, OURS)) is expected


def test_no_hold_tells_anything_about_the_person() -> None:
    holds = [
        accept(someone(birth_date="1961-04-10"), OURS),
        accept(someone(names=(("Another", ("Robin",)),)), OURS),
        one_of([numbered(value="9990000026")], OURS),
        accept(someone(deceased="2026-03-01"), OURS),
    ]
    for hold in holds:
        assert isinstance(hold, Hold)
        for word in ("1961", "Another", "Robin", "Zztestname", "999000", "2026-03-01"):
            assert word not in hold.sentence + hold.action + repr(hold)

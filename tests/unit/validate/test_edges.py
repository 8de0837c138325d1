"""The last step on each side of a rule's edge, and the exact words beside it."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from gateway.mapping.guideline import Standing
from gateway.mapping.limits import Spread
from gateway.mapping.rules import ReviewRule
from gateway.model import Diary, Examined, HoldReason, Identifier, Monitor, Recording, Severity, Use, Verdict
from gateway.validate.case import named_rows
from gateway.validate.known import Earlier, instants_of, same_recording
from gateway.validate.number import canonical, is_filler, passes
from gateway.validate.words import in_words
from tests.builders import LONDON, NHS, START, a_person, a_reading, a_recording, readings_over
from tests.unit.validate.ruling import examined, reading_limits

BOTH_SIDES = ReviewRule(
    name="local rule",
    systolic_at_or_above=Decimal(180),
    diastolic_at_or_above=Decimal(110),
    systolic_below=Decimal(90),
    diastolic_below=Decimal(50),
)


def reviewed(*pairs: tuple[float, float]) -> str:
    readings = [a_reading(START + timedelta(minutes=30 * n), *pair, row=n) for n, pair in enumerate(pairs)]
    return examined(a_recording(readings, diary=Diary()), review=BOTH_SIDES).review.sentence


@pytest.mark.parametrize(
    ("pairs", "side", "count"),
    [
        ([(180, 70)], "above", "1 reading"),
        ([(120, 110)], "above", "1 reading"),
        ([(89.9, 60)], "below", "1 reading"),
        ([(120, 49.9)], "below", "1 reading"),
        ([(180, 70), (89, 60)], "outside", "2 readings"),
    ],
)
def test_the_review_sentence_names_the_side(pairs: list[tuple[float, float]], side: str, count: str) -> None:
    assert reviewed((130, 80), *pairs) == f"Values {side} your local review limit (local rule): {count}."


def test_values_on_the_right_side_of_the_review_limits_say_nothing() -> None:
    assert reviewed((179.9, 109.9), (90, 50)) == ""


@pytest.mark.parametrize(("number", "said"), [(1, "1 reading kept out"), (2, "2 readings kept out")])
def test_a_note_counts_what_is_kept_out(number: int, said: str) -> None:
    times = readings_over()
    readings = [a_reading(r.at, 300 if n < number else 130, 80, row=r.row) for n, r in enumerate(times)]
    result = examined(a_recording(readings))
    sentence = next(one.sentence for one in result.findings if one.rule == "systolic-limits")
    assert sentence == f"{said}: systolic outside 50 to 260."


def spread_of(deviations: str) -> Examined:
    """130, 130 and 160: mean 140, SD 17.32 (n-1), so 160 lies 1.1547 SD away."""
    readings = [a_reading(START + timedelta(hours=n), 130 if n < 2 else 160, 80, row=n) for n in range(3)]
    spread = Spread(deviations=Decimal(deviations), citation="for this test", standing=Standing.MEMORY)
    limits = reading_limits("none").model_copy(update={"spread": spread})
    return examined(a_recording(readings, diary=Diary()), limits=limits)


def test_three_readings_have_a_spread() -> None:
    assert [v.use for v in spread_of("1.154").judged] == [Use.VALID, Use.VALID, Use.EXCLUDED]
    assert {v.use for v in spread_of("1.155").judged} == {Use.VALID}


def test_a_night_that_is_asked_for_and_not_there() -> None:
    """ESC asks for 7 valid readings asleep; by the marks nobody slept."""
    awake = [replace(reading, asleep_mark=False) for reading in readings_over()]
    result = examined(a_recording(awake, diary=Diary()), "esc-2024")
    assert result.adequacy is not None
    assert result.adequacy.verdict is Verdict.NOT_ADEQUATE
    assert "No time asleep is known (7 valid readings asleep are asked for)." in result.adequacy.reasons
    nice = examined(a_recording(awake, diary=Diary()), "nice-ng136").adequacy
    assert nice is not None and nice.reasons == ()


def earlier(instants: set[int], serial: str | None = "EX-0001") -> Earlier:
    return Earlier(recording_id="0123456789abcdef", serial=serial, instants=frozenset(instants))


def test_the_same_recording_is_told_by_half_of_the_shorter_ones_instants() -> None:
    recording = a_recording(readings_over(hours=2))  # 4 attempts
    ours = set(instants_of(recording))
    assert len(ours) == 4
    two, one = set(sorted(ours)[:2]), set(sorted(ours)[:1])
    assert same_recording(recording, earlier(two | {1, 2}))
    assert not same_recording(recording, earlier(one | {1, 2, 3}))
    assert same_recording(recording, earlier(one)), "one attempt is enough where there is only one"
    assert not same_recording(recording, earlier(set())), "nothing coincides with nothing"


def test_another_monitor_is_another_recording_and_an_unknown_one_is_not() -> None:
    recording = a_recording()
    ours = set(instants_of(recording))
    assert not same_recording(recording, earlier(ours, serial="EX-0002"))
    assert same_recording(recording, earlier(ours, serial=None))
    assert same_recording(replace(recording, monitor=Monitor()), earlier(ours))


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ((4,), "row 4"),
        ((4, 7), "rows 4, 7"),
        ((1, 2, 3, 4, 5), "rows 1, 2, 3, 4, 5"),
        ((1, 2, 3, 4, 5, 6), "rows 1, 2, 3, 4, 5 and 1 more"),
    ],
)
def test_rows_in_words(rows: tuple[int, ...], said: str) -> None:
    assert named_rows(rows) == said


def over(first: datetime, last: datetime) -> Recording:
    return a_recording([a_reading(first, row=1), a_reading(last, row=2)], diary=Diary())


@pytest.mark.parametrize(("day", "exchanged"), [(12, True), (13, False)])
def test_a_day_after_the_twelfth_is_no_month(day: int, exchanged: bool) -> None:
    """4 to 5 December read month-first is 12 April to 12 May; a thirteenth can be no month."""
    first, last = datetime(2026, 4, day, 22, tzinfo=LONDON), datetime(2026, 5, day, 21, tzinfo=LONDON)
    hold = examined(over(first, last), now=datetime(2026, 12, 20, tzinfo=UTC)).hold
    assert hold is not None
    reason = HoldReason.TIME_DOUBTFUL if exchanged else HoldReason.RECORDING_TOO_LONG
    assert hold.reason is reason


@pytest.mark.parametrize(("minutes", "reason"), [(0, HoldReason.TIME_DOUBTFUL), (1, HoldReason.RECORDING_TOO_LONG)])
def test_exchanged_dates_must_give_a_possible_length(minutes: int, reason: HoldReason) -> None:
    """5 June 10:00 to 5 August 14:00, turned 6 May 10:00 to 8 May 14:00: 52 hours; a minute more is too long."""
    first = datetime(2026, 6, 5, 10, tzinfo=UTC)
    last = datetime(2026, 8, 5, 14, tzinfo=UTC) + timedelta(minutes=minutes)
    hold = examined(over(first, last), now=datetime(2026, 8, 20, tzinfo=UTC)).hold
    assert hold is not None and hold.reason is reason


@pytest.mark.parametrize(
    ("span", "said"),
    [
        (timedelta(hours=1), "1 hour"),
        (timedelta(hours=2), "2 hours"),
        (timedelta(minutes=90), "1 h 30 min"),
        (timedelta(0), "0 hours"),
    ],
)
def test_lengths_in_words(span: timedelta, said: str) -> None:
    assert in_words(span) == said


def test_a_number_of_a_system_without_a_check_passes_as_it_stands() -> None:
    other = Identifier("urn:example:other", "12-34 x")
    assert passes(other, {NHS: "gb.nhs"})
    assert canonical(other, {NHS: "gb.nhs"}) == other


def test_what_is_printed_with_the_result_is_a_caution() -> None:
    result = examined(a_recording(person=a_person(birth_date=None)))
    (finding,) = (one for one in result.findings if one.rule == "age-unknown")
    assert (finding.severity, finding.rows) == (Severity.CAUTION, ())


@pytest.mark.parametrize(("number", "filler"), [("0", True), ("00 00", True), ("11", False), ("00001", False)])
def test_zeros_only_are_no_number(number: str, filler: bool) -> None:
    assert is_filler(number) is filler


def test_a_check_that_cannot_be_loaded_lets_nothing_pass() -> None:
    assert not passes(Identifier(NHS, "9990000018"), {NHS: "gb.nosuchcheck"})
    assert not passes(Identifier(NHS, "9990000018"), {NHS: "../gb.nhs"})

"""What stands first: the review message, the age of the recording, why no limits are applied."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from gateway.mapping.rules import ReviewRule
from gateway.model import Finding, Review, Schedule, Severity
from gateway.report import render
from gateway.report.cards import cards
from gateway.report.words import words_of
from tests.builders import a_recording, readings_over
from tests.unit.report.cases import BY_NAME, CASES, SURGERY, WORN, Case, course, every_20_or_30
from tests.unit.report.pages import pdf_of, pictures, reader, text_of
from tests.unit.report.summing import summary_of

HIGH = ReviewRule(name="any systolic of 200 and more", systolic_at_or_above=Decimal(200))


def test_the_local_review_message_stands_before_the_answer() -> None:
    case = BY_NAME["extreme-values"]
    summary = summary_of(case.recording, HIGH)
    assert summary.review.sentence
    text = text_of(render(case.recording, summary, case.letterhead))
    first = text.index(summary.review.sentence)
    assert first < text.index("Is the recording good enough?")


def test_nothing_is_said_where_no_rule_was_met() -> None:
    case = BY_NAME["adequate"]
    assert case.summary.review == Review(rule=case.summary.review.rule)
    assert "review limit" not in text_of(pdf_of("adequate"))


def test_old_recordings_are_headed_so() -> None:
    case = BY_NAME["adequate"]
    summary = replace(case.summary, historical=True)
    assert "Historical recording" in text_of(render(case.recording, summary, case.letterhead))
    dated = replace(case.letterhead, analysed_on=date(2026, 11, 2))
    assert "Historical recording, analysed on 2 November 2026" in text_of(render(case.recording, summary, dated))
    assert "Historical" not in text_of(pdf_of("adequate"))


def test_a_corrected_result_is_headed_so() -> None:
    case = BY_NAME["adequate"]
    corrected = replace(case.letterhead, replaces_on=date(2026, 3, 6))
    assert "Corrected: replaces the result of 6 March 2026" in text_of(
        render(case.recording, case.summary, corrected)
    )
    assert "Corrected" not in text_of(pdf_of("adequate"))


def test_without_limits_the_page_says_why() -> None:
    case = BY_NAME["child"]
    text = text_of(pdf_of("child"))
    assert case.summary.rules.why_not in text
    assert text.count("no limit applied") == 3
    assert "at or above" not in text.replace("Load, at or above limit", "")


def test_inadequate_recordings_say_so_with_every_reason_and_without_limits() -> None:
    case = BY_NAME["inadequate"]
    text = text_of(pdf_of("inadequate"))
    assert "No, not adequate" in text
    assert len(case.summary.adequacy.reasons) >= 2
    assert all(reason in text for reason in case.summary.adequacy.reasons)
    assert text.count("no limit applied") == 3


def test_every_sentence_of_the_conclusion_is_there_in_order() -> None:
    for name in ("adequate", "inadequate", "two-days", "day-sleeper"):
        text = text_of(pdf_of(name))
        text = text[text.index("What stands out") :]
        places = [text.index(sentence) for sentence in BY_NAME[name].summary.conclusion]
        assert places == sorted(places)


def test_cautions_of_the_rules_are_printed_and_a_flood_of_them_is_counted() -> None:
    case = BY_NAME["adequate"]
    flood = tuple(
        Finding(rule=f"rule-{at}", severity=Severity.CAUTION, sentence=f"Caution number {at}.") for at in range(9)
    )
    text = text_of(render(case.recording, replace(case.summary, findings=flood), case.letterhead))
    assert all(f"Caution number {at}." in text for at in range(6))
    assert "and 3 more" in text


def test_the_person_stands_on_every_page() -> None:
    for name in ("two-days", "letter-kpa-every-reading"):
        for page in reader(pdf_of(name)).pages:
            text = page.extract_text()
            assert "Example, Alex" in text
            assert "9990000018" in text


def test_software_rules_and_fingerprint_are_named() -> None:
    text = text_of(pdf_of("adequate"))
    for part in ("ambulatory-bp-gateway 0.1.0", "8f2c-41aa-90d7", "EX-0001", "left arm", "Europe/London", "plain 1"):
        assert part in text
    case = BY_NAME["adequate"]
    bare = replace(case.letterhead, fingerprint="")
    assert case.recording.source.sha256 in text_of(render(case.recording, case.summary, bare)).replace(" ", "")


def test_a_period_that_the_guideline_does_not_decide_by_is_compared_in_words_only() -> None:
    """AHA/ACC 2025 decides on 24-hour and awake averages and gives 110/65 asleep beside them (its tables 7 and 9)."""
    readings = readings_over(hours=26, every=every_20_or_30, profile=course())
    recording = a_recording(readings, schedule=Schedule(interval_day=20, interval_night=30), monitor=WORN)
    summary = summary_of(recording, guideline="aha-acc-2025")
    found = {one["label"]: one for one in cards(summary, SURGERY, words_of("en"))}
    assert found["Asleep"]["against"] == "both at or above 110/65"
    assert not found["Asleep"]["above"]
    assert found["Awake"]["above"]
    assert "Asleep, to compare" in text_of(render(recording, summary, SURGERY))
    assert "to compare" not in text_of(pdf_of("adequate"))


def test_what_the_last_test_said_stands_there_only_when_there_was_one() -> None:
    case = BY_NAME["adequate"]
    told = ("Awake average 138.2/86.1 mmHg, 141.0/88.0 mmHg in the recording of 2025-01-02.", "A second line.")
    text = text_of(render(case.recording, replace(case.summary, comparison=told), case.letterhead))
    assert text.index("What stands out") < text.index("What the last test said") < text.index(told[0])
    assert text.index(told[0]) < text.index(told[1]) < text.index("The course")
    assert "What the last test said" not in text_of(pdf_of("adequate"))


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_nothing_stands_outside_the_margins(case: Case) -> None:
    """The right margin is at least 14 mm wide; text that does not wrap would run into it. 28 points are 9.9 mm."""
    for page in pictures(pdf_of(case.name), 1):
        edge = page.convert("L").crop((page.width - 28, 0, page.width, page.height))
        assert edge.getextrema()[0] > 250

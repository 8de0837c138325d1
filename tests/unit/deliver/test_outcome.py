"""The table of outcomes: every status has one meaning, and no answer repeats what is the person's."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as some

from gateway.deliver.outcome import OTHER, TABLE, Verdict, meaning, of_silence, row_of, together, wish
from gateway.deliver.silence import NoReply, Silence
from gateway.model import HoldReason, Rejected, TryLater
from gateway.store.outcome import columns

NOW = datetime(2026, 3, 5, 12, 0, tzinfo=UTC)


@given(some.integers(min_value=300, max_value=599))
def test_every_status_but_2xx_has_a_meaning(status: int) -> None:
    assert isinstance(meaning(status, None, None, True, ()), TryLater | Rejected)


@pytest.mark.parametrize("status", [200, 201, 204])
def test_2xx_is_no_trouble(status: int) -> None:
    assert meaning(status, None, None, True, ()) is None


@pytest.mark.parametrize("status", [408, 500, 502, 503, 504])
def test_a_read_never_leaves_an_unknown_outcome(status: int) -> None:
    answer = meaning(status, None, None, False, ())
    assert isinstance(answer, TryLater)
    assert not answer.outcome_unknown


def test_refused_credentials_keep_the_work_and_wait() -> None:
    answer = meaning(401, None, None, True, ())
    assert isinstance(answer, TryLater)
    assert answer.after == timedelta(minutes=10)


def test_a_redirect_says_what_to_write() -> None:
    answer = meaning(302, None, None, True, ())
    assert isinstance(answer, Rejected)
    assert answer.hold.reason is HoldReason.RECORD_UNSUITABLE
    assert "url" in answer.hold.detail


# RFC 9110, 10.2.3 (Retry-After) and 5.6.7 (the three forms of an HTTP-date, whose example this is)
@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("120", 120),
        (" 20 ", 20),
        ("Thu, 05 Mar 2026 12:02:00 GMT", 120),
        ("Thursday, 05-Mar-26 12:02:00 GMT", 120),
        ("Thu, 05 Mar 2020 12:00:00 GMT", 0),
        ("99999999999999999999", 10**8),
        ("Fri, 31 Dec 9999 23:59:59 -2359", 10**8),
    ],
)
def test_retry_after_in_seconds_or_as_a_date(text: str, seconds: int) -> None:
    assert wish(text, NOW) == timedelta(seconds=seconds)


ABSURD_OFFSET = "Thu, 05 Mar 2026 12:02:00 +" + "9" * 18


@pytest.mark.parametrize("text", [None, "", "soon", "-5", "1.5", "²", "Thu, 99 Mar 2026", ABSURD_OFFSET])
def test_an_unreadable_retry_after_is_none(text: str | None) -> None:
    assert wish(text, NOW) is None


@pytest.mark.parametrize("silence", Silence)
@pytest.mark.parametrize("sent", [True, False])
@pytest.mark.parametrize("writes", [True, False])
def test_silence_leaves_a_doubt_only_after_something_was_sent(silence: Silence, sent: bool, writes: bool) -> None:
    answer = of_silence(NoReply(silence=silence, sent=sent), writes)
    assert answer.outcome_unknown == (sent and writes)
    assert answer.why


def test_the_longest_wish_of_several_entries_counts() -> None:
    wishes = [None, timedelta(seconds=20), timedelta(seconds=90), None]
    answer = together([TryLater(why="429", after=after) for after in wishes])
    assert isinstance(answer, TryLater)
    assert answer.after == timedelta(seconds=90)


def test_no_status_stands_in_two_rows() -> None:
    listed = [status for row in TABLE for status in row.statuses]
    assert len(listed) == len(set(listed))
    assert row_of(418) is OTHER


def test_every_row_where_a_person_decides_has_a_reason() -> None:
    for row in (*TABLE, OTHER):
        assert (row.reason is not None) == (row.verdict in (Verdict.REFUSED, Verdict.ASK))


@pytest.mark.parametrize(
    ("statuses", "kind", "unknown"),
    [
        ((422, 500), Rejected, True),
        ((500, 422), Rejected, True),
        ((422, 429), Rejected, False),
        ((422, 409), Rejected, False),
        ((429, 500), TryLater, True),
        ((429, 429), TryLater, False),
    ],
)
def test_one_entry_does_not_hide_what_another_left_unknown(
    statuses: tuple[int, ...], kind: type[object], unknown: bool
) -> None:
    troubles = [trouble for status in statuses if (trouble := meaning(status, None, None, True, ()))]
    answer = together(troubles)
    assert isinstance(answer, kind)
    assert answer.outcome_unknown is unknown
    assert columns(answer, NOW, False)["outcome_unknown"] is unknown, "or the next attempt would not ask first"


def complaint(diagnostics: str) -> dict[str, object]:
    return {
        "resourceType": "OperationOutcome",
        "issue": [
            {"severity": "error", "code": "value", "expression": ["Observation.subject"], "diagnostics": diagnostics}
        ],
    }


def test_the_servers_words_are_kept_and_the_persons_are_masked() -> None:
    body = complaint("number 9990000018 of ZZTESTNAME born 1961-04-09 is unknown")
    answer = meaning(422, body, None, True, ("9990000018", "Zztestname", "1961-04-09"))
    assert isinstance(answer, Rejected)
    assert "Observation.subject" in answer.answer
    assert "is unknown" in answer.answer
    for word in ("9990000018", "zztestname", "1961-04-09"):
        assert word not in answer.answer.lower()


@pytest.mark.parametrize("body", [None, "text", [], {}, {"resourceType": "OperationOutcome"}, {"issue": 3}])
def test_a_shapeless_body_is_no_obstacle(body: object) -> None:
    answer = meaning(422, body, None, True, ())
    assert isinstance(answer, Rejected)
    assert answer.answer == "the server answered 422"

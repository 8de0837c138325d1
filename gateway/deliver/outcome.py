"""What an answer means for the delivery: the table of outcomes. Pure.

no answer            try later; after a write the outcome is unknown, so the next attempt asks first
408 425 429          try later, when the server says (Retry-After, seconds or date)
500 502 503 504 507  try later; after a write the outcome is unknown
401                  once more with new credentials (`talk`), then try later: that is for IT, not for a nurse
3xx                  never followed: the address in the settings is not the right one
409 410 412          the record holds something we did not expect: a person decides
501 505 and 405 406  the server cannot do what is needed
other 4xx            refused, with the server's own words
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime

from gateway.deliver.wire import NoReply, Reply, Silence
from gateway.fhir.heard import outcome_text
from gateway.model import Hold, HoldReason, Rejected, TryLater

CREDENTIALS_PAUSE = timedelta(minutes=10)
"""Refused credentials are asked about again seldom, or the account may be locked."""

FARTHEST = timedelta(seconds=10**8)
"""about three years: a later time would run out of the calendar"""

TEMPORARY = frozenset({408, 425, 429, 500, 502, 503, 504, 507})
MAY_HAVE_STORED = frozenset({408, 500, 502, 503, 504, 507})
REASONS = {
    405: HoldReason.RECORD_UNSUITABLE,
    406: HoldReason.RECORD_UNSUITABLE,
    409: HoldReason.RECORD_CONFLICT,
    410: HoldReason.RECORD_CONFLICT,
    412: HoldReason.RECORD_CONFLICT,
    501: HoldReason.RECORD_UNSUITABLE,
    505: HoldReason.RECORD_UNSUITABLE,
}
SILENCES = {
    Silence.UNREACHABLE: "the server cannot be reached",
    Silence.UNTRUSTED: "the server's certificate is not trusted (see ca_file in the settings)",
    Silence.BROKEN: "the connection broke before the answer was complete",
    Silence.TOO_LATE: "the answer did not come in time",
    Silence.TOO_LARGE: "the answer is larger than any answer should be",
}


class Stopped(Exception):  # noqa: N818  (ends one attempt with its answer; never leaves this package)
    """This attempt is over; `answer` says how."""

    def __init__(self, answer: TryLater | Rejected) -> None:
        self.answer = answer
        super().__init__(type(answer).__name__)


def of_silence(no_reply: NoReply, writes: bool) -> TryLater:
    """What to do when no usable answer came."""
    return TryLater(
        why=SILENCES[no_reply.silence],
        unreachable=no_reply.silence in (Silence.UNREACHABLE, Silence.UNTRUSTED),
        outcome_unknown=writes and no_reply.sent,
    )


def of_status(reply: Reply, now: datetime, writes: bool, masked: Sequence[str]) -> TryLater | Rejected | None:
    """What the status of a whole answer means; None for 2xx. `masked`: words that may not be repeated."""
    return meaning(reply.status, reply.body, wish(reply.headers.get("retry-after"), now), writes, masked)


def meaning(
    status: int, body: object, after: timedelta | None, writes: bool, masked: Sequence[str]
) -> TryLater | Rejected | None:
    """The table itself, for a whole answer and for one entry of a bundle. None for 2xx."""
    if 200 <= status < 300:
        return None
    words = outcome_text(body, masked)
    said = f"the server answered {status}" + (f": {words}" if words else "")
    if status == 401:
        return TryLater(why="the server does not accept our credentials (401)", after=CREDENTIALS_PAUSE)
    if status in TEMPORARY:
        return TryLater(why=said, after=after, outcome_unknown=writes and status in MAY_HAVE_STORED)
    if 300 <= status < 400:
        detail = f"status {status}: it sends us to another address; write that address as url in the settings"
        return Rejected(hold=Hold(reason=HoldReason.RECORD_UNSUITABLE, detail=detail), answer=said)
    reason = REASONS.get(status, HoldReason.RECORD_REFUSED)
    return Rejected(hold=Hold(reason=reason, detail=f"status {status}"), answer=said)


def together(troubles: Sequence[TryLater | Rejected]) -> TryLater | Rejected:
    """What several entries of one bundle mean together: a refusal first, and any unknown outcome stays known as such.

    Raises IndexError when there are none.
    """
    worst = next((trouble for trouble in troubles if isinstance(trouble, Rejected)), troubles[0])
    return replace(worst, outcome_unknown=any(trouble.outcome_unknown for trouble in troubles))


def not_fhir(writes: bool) -> TryLater:
    """A good status with something else than FHIR inside: a maintenance page, a proxy, a cut-off body."""
    return TryLater(why="the answer is no FHIR (a proxy or maintenance page?)", outcome_unknown=writes)


def rejected(reason: HoldReason, detail: str = "", answer: str = "", rule: str = "") -> Stopped:
    """End the attempt: a person must decide."""
    return Stopped(Rejected(hold=Hold(reason=reason, detail=detail, rule=rule), answer=answer))


def wish(retry_after: str | None, now: datetime) -> timedelta | None:
    """Retry-After, seconds or HTTP-date (RFC 9110, 10.2.3). None when missing or unreadable."""
    if retry_after is None:
        return None
    text = retry_after.strip()
    if text.isascii() and text.isdigit():
        return min(timedelta(seconds=int(text[:9])), FARTHEST)
    try:
        moment = parsedate_to_datetime(text)
    except (ValueError, OverflowError):
        return None
    aware = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
    return min(max(aware - now, timedelta(0)), FARTHEST)

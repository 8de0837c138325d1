"""What an answer means for the delivery: the table of outcomes. Pure.

`TABLE` holds every status, for a whole answer and for one entry of a bundle alike; `SILENCES` every way in which no
answer comes; `SHAPES` every good status that says too little. `deploy/README.md` prints them for IT.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from enum import StrEnum

from gateway.deliver.silence import NoReply, Silence
from gateway.deliver.stopped import CREDENTIALS_PAUSE
from gateway.deliver.wire import Reply
from gateway.fhir.heard import outcome_text
from gateway.model import Hold, HoldReason, Rejected, TryLater

FARTHEST = timedelta(seconds=10**8)
"""about three years: a later time would run out of the calendar"""

MOST_WORDS = 2_000
"""letters of what a server complains about that are kept"""


class Verdict(StrEnum):
    """What is done about an answer. Closed list."""

    DONE = "done"
    """it was written; what else must hold is in `SHAPES`"""
    LATER = "later"
    """the same again, when the server says (Retry-After, seconds or date) or by our schedule"""
    CREDENTIALS = "credentials"
    """once more with new credentials, then later: that is for IT, not for a nurse"""
    ASK = "ask"
    """ask who is there, send what is missing once more; if it says so again, a person decides"""
    REFUSED = "refused"
    """a person decides"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the table. `unknown`: a write may have been stored all the same, so the next attempt asks first.
    `reason`: of the hold, where a person decides.
    """

    statuses: Sequence[int]
    verdict: Verdict
    unknown: bool = False
    reason: HoldReason | None = None


TABLE = (
    Row(statuses=range(200, 300), verdict=Verdict.DONE),
    # never followed: the address in the settings is not the right one, and credentials go nowhere else
    Row(statuses=range(300, 400), verdict=Verdict.REFUSED, reason=HoldReason.RECORD_UNSUITABLE),
    Row(statuses=(401,), verdict=Verdict.CREDENTIALS),
    Row(statuses=(425, 429), verdict=Verdict.LATER),
    Row(statuses=(408, 500, 502, 503, 504, 507), verdict=Verdict.LATER, unknown=True),
    # 409: two writers met, or something of that id is there; 412: several matches, or another version
    Row(statuses=(409, 412), verdict=Verdict.ASK, reason=HoldReason.RECORD_CONFLICT),
    Row(statuses=(410,), verdict=Verdict.REFUSED, reason=HoldReason.RECORD_CONFLICT),
    Row(statuses=(405, 406, 501, 505), verdict=Verdict.REFUSED, reason=HoldReason.RECORD_UNSUITABLE),
    # `filing` tries 413 again in smaller parts first
    Row(statuses=(400, 403, 404, 413, 415, 422), verdict=Verdict.REFUSED, reason=HoldReason.RECORD_REFUSED),
)
OTHER = Row(statuses=(), verdict=Verdict.REFUSED, reason=HoldReason.RECORD_REFUSED)
"""any other status: the server's own words decide"""

SILENCES = {
    Silence.UNREACHABLE: "the server cannot be reached",
    Silence.UNTRUSTED: "the server's certificate is not trusted (see ca_file in the settings)",
    Silence.OURS: "our own certificate cannot be used",
    Silence.BROKEN: "the connection broke before the answer was complete",
    Silence.TOO_LATE: "the answer did not come in time",
    Silence.TOO_LARGE: "the answer is larger than any answer should be",
}
"""No answer: later. After a write that was sent the outcome is unknown."""


class Shape(StrEnum):
    """A good status that says too little. Closed list; all of them: later, and the outcome is unknown."""

    NOT_FHIR = "the answer is no FHIR (a proxy or maintenance page?)"
    """HTML, empty, cut off, or another kind of resource"""
    FEWER = "the answer has another number of entries than was sent"
    NO_STATUS = "an entry came back without a status"
    OTHER_STATUS = "an entry came back with a status that is no answer to a write"
    NO_PLACE = "the server does not say where it stored an entry"


def row_of(status: int) -> Row:
    """The line of the table for a status."""
    return next((row for row in TABLE if status in row.statuses), OTHER)


def of_silence(no_reply: NoReply, writes: bool) -> TryLater:
    """What to do when no usable answer came."""
    return TryLater(
        why=no_reply.detail or SILENCES[no_reply.silence],
        after=CREDENTIALS_PAUSE if no_reply.silence is Silence.OURS else None,
        unreachable=no_reply.silence in (Silence.UNREACHABLE, Silence.UNTRUSTED),
        outcome_unknown=writes and no_reply.sent,
    )


def of_shape(shape: Shape, writes: bool = True) -> TryLater:
    """What to do when a good status says too little."""
    return TryLater(why=shape.value, outcome_unknown=writes)


def of_status(reply: Reply, now: datetime, writes: bool, masked: Sequence[str]) -> TryLater | Rejected | None:
    """What the status of a whole answer means; None for 2xx. `masked`: words that may not be repeated."""
    return meaning(reply.status, reply.body, wish(reply.headers.get("retry-after"), now), writes, masked)


def meaning(
    status: int, body: object, after: timedelta | None, writes: bool, masked: Sequence[str]
) -> TryLater | Rejected | None:
    """The table applied, to a whole answer or to one entry of a bundle. None for 2xx."""
    row = row_of(status)
    words = outcome_text(body, masked)
    said = f"the server answered {status}" + (f": {words}" if words else "")
    if row.verdict is Verdict.DONE:
        return None
    if row.verdict is Verdict.CREDENTIALS:
        return TryLater(why=f"the server does not accept our credentials ({status})", after=CREDENTIALS_PAUSE)
    if row.verdict is Verdict.LATER:
        return TryLater(why=said, after=after, outcome_unknown=writes and row.unknown)
    detail = f"status {status}"
    if 300 <= status < 400:
        detail += ": it sends us to another address; write that address as url in the settings"
    return Rejected(hold=Hold(reason=row.reason or HoldReason.RECORD_REFUSED, detail=detail), answer=said)


def together(troubles: Sequence[TryLater | Rejected]) -> TryLater | Rejected:
    """What several entries of one bundle mean together: a refusal first, with the words of all of them, the longest
    wish, and any unknown outcome stays known as such.

    Raises IndexError when there are none.
    """
    unknown = any(trouble.outcome_unknown for trouble in troubles)
    refusals = [trouble for trouble in troubles if isinstance(trouble, Rejected)]
    if refusals:
        every = " | ".join(dict.fromkeys(refusal.answer for refusal in refusals if refusal.answer))
        return replace(refusals[0], outcome_unknown=unknown, answer=every[:MOST_WORDS])
    later = [trouble for trouble in troubles if isinstance(trouble, TryLater)]
    wishes = [trouble.after for trouble in later if trouble.after is not None]
    return replace(later[0], outcome_unknown=unknown, after=max(wishes, default=None))


def wish(retry_after: object, now: datetime) -> timedelta | None:
    """Retry-After, seconds or HTTP-date (RFC 9110, 10.2.3). None when missing or unreadable."""
    text = str(retry_after if retry_after is not None else "").strip()
    if text.isascii() and text.isdigit():
        return min(timedelta(seconds=int(text[:9])), FARTHEST)
    try:
        moment = parsedate_to_datetime(text)
    except (ValueError, OverflowError):
        return None
    aware = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
    return min(max(aware - now, timedelta(0)), FARTHEST)

"""How one attempt ends early, with the answer that says why."""

from datetime import timedelta

from gateway.model import Hold, HoldReason, Rejected, TryLater

CREDENTIALS_PAUSE = timedelta(minutes=10)
"""Refused credentials are asked about again seldom, or the account may be locked."""


class Stopped(Exception):  # noqa: N818  (ends one attempt with its answer; never leaves this package)
    """This attempt is over; `answer` says how. `ask`: asking who is there already may still settle it."""

    def __init__(self, answer: TryLater | Rejected, ask: bool = False) -> None:
        self.answer = answer
        self.ask = ask
        super().__init__(type(answer).__name__)


def rejected(reason: HoldReason, detail: str = "", answer: str = "", rule: str = "") -> Stopped:
    """End the attempt: a person must decide."""
    return Stopped(Rejected(hold=Hold(reason=reason, detail=detail, rule=rule), answer=answer))


def for_it(why: str, after: timedelta = CREDENTIALS_PAUSE) -> TryLater:
    """Something that IT must mend; the work is kept meanwhile."""
    return TryLater(why=why, after=after)

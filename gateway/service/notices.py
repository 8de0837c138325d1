"""The notice of a withdrawal, for the clinicians who answer for the two charts, and where it lies.

It is a text that the site hands over. It names nobody: numbers of entries in the record, times, who decided. It lies
in the folder of what waits for a person until somebody acknowledged it.
"""

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from gateway.model import Act, DeliveryState
from gateway.store import DeliveryStory, Store, Story, Withdrawal

SHOWN = 8
"""letters of a recording's number that stand in the name of the file"""
FRONT, END = "withdrawn-", ".txt"


def keep_notices(store: Store, held: Path, done: Path) -> None:
    """A file in `held` for every finished withdrawal whose notice nobody acknowledged; others go to `done`.

    Safe to repeat: after a kill the next call puts right what is missing.
    """
    open_ = {recording_id[:SHOWN]: recording_id for recording_id in store.open_notices()}
    lying = {path.name.removeprefix(FRONT).removesuffix(END): path for path in held.glob(f"{FRONT}*{END}")}
    for mark, path in lying.items():
        if mark not in open_:
            path.replace(done / path.name)
    for mark, recording_id in open_.items():
        text = notice_of(store.story(recording_id))
        path = held / f"{FRONT}{mark}{END}"
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8")


def notice_of(story: Story) -> str:
    """The notice of a recording's last withdrawal. Raises ValueError where nothing was withdrawn."""
    if not story.withdrawals:
        raise ValueError("nothing of this recording was withdrawn")
    return "\n".join(_lines(story, story.withdrawals[-1])) + "\n"


def _lines(story: Story, last: Withdrawal) -> Iterator[str]:
    mark = story.recording_id[:SHOWN]
    yield "A BLOOD PRESSURE RECORDING WAS WITHDRAWN FROM A RECORD"
    yield "For the clinicians responsible for each person named below by the number of the entry."
    yield ""
    yield f"Recording {story.recording_id}"
    yield f"Withdrawn by {last.by} on {_time(last.at)}."
    yield f"Reason: {last.why}"
    yield ""
    yield "Where it was filed in error:"
    for delivery in _taken_back(story, last):
        yield from _span(story, last, delivery)
    yield "What was seen there: single readings, averages, the report and what it said about limits."
    yield "Please check whether anything was decided on it for this person while it could be seen."
    yield ""
    yield from _where_now(story)
    yield ""
    if last.acknowledged_by and last.acknowledged_at:
        yield f"Acknowledged by {last.acknowledged_by} on {_time(last.acknowledged_at)}."
    else:
        yield "When the clinicians of both persons know of it, say so:"
        yield f'    bp-gateway retract acknowledge {mark} --by "YOUR NAME"'


def _taken_back(story: Story, last: Withdrawal) -> list[DeliveryStory]:
    return [each for each in story.deliveries if each.act is Act.WITHDRAW and each.key == last.key]


def _span(story: Story, last: Withdrawal, taken_back: DeliveryStory) -> Iterator[str]:
    begun = [
        each.begun
        for each in story.deliveries
        if each.key == last.key
        and each.destination == taken_back.destination
        and each.act is not Act.WITHDRAW
        and each.begun
    ]
    seen_from = _time(min(begun)) if begun else "a time that is not known (the outcome of sending was not)"
    entry = taken_back.patient or ("by the person's number" if begun else "no entry: nothing was found there")
    until = _time(taken_back.changed_at) if taken_back.state is DeliveryState.DONE else "NOT WITHDRAWN YET"
    yield f"  record '{taken_back.destination}', {entry}"
    yield f"    could be seen from {seen_from} to {until}"


def _where_now(story: Story) -> Iterator[str]:
    gone = {each.key for each in story.withdrawals}
    anew = [each for each in story.deliveries if each.key not in gone and each.act is not Act.WITHDRAW]
    if not anew:
        yield "It has not been filed again. The person whose recording it is has no result of it in the record."
        return
    yield "Filed again since:"
    for each in anew:
        if each.state is DeliveryState.DONE:
            yield f"  record '{each.destination}', {each.patient or 'by number'}, since {_time(each.changed_at)}"
            yield "    until then whoever treats this person could not see it"
        else:
            yield f"  record '{each.destination}': on its way"


def _time(moment: datetime) -> str:
    return f"{moment:%Y-%m-%d %H:%M:%S} UTC"

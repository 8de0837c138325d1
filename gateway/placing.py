"""A recording beside what the store holds already: the same readings, the same monitor, the same person again."""

from collections.abc import Iterable
from dataclasses import replace

from gateway import fhir
from gateway.intake import Considered, Tools
from gateway.model import Finding, Severity
from gateway.model.phrase import Phrase
from gateway.store import Expected, Neighbour, Question, Store
from gateway.validate.beside import Before, Beside, doubts
from gateway.validate.case import Doubt
from gateway.validate.likeness import INDEXED, marks_of


def question_of(store: Store, considered: Considered, own_id: str) -> Question | None:
    """What to ask the store about a recording that may go on; None for one that is held."""
    recording = considered.recording
    if considered.hold is not None or recording is None or recording.person.identifier is None:
        return None
    marks = marks_of(recording, store.key)
    return Question(
        recording_id=own_id,
        person_key=fhir.person_key(store.key, recording.person.identifier),
        serial=recording.monitor.serial,
        began=recording.began,
        ended=recording.ended,
        marks=marks,
        index=marks[:INDEXED],
        order=recording.circumstances.order,
    )


def out_to(store: Store, question: Question | None) -> Expected | None:
    """Who had the monitor by the list. Asked for the middle of the recording, as fittings begin before or after their
    appointment.
    """
    if question is None or not question.serial:
        return None
    return store.out_to(question.serial, question.began + (question.ended - question.began) / 2)


def placed(
    considered: Considered,
    question: Question | None,
    neighbours: Iterable[Neighbour],
    out: Expected | None,
    tools: Tools,
    waived: frozenset[str],
) -> Considered:
    """Held where something of what was taken in before speaks against it, or the list of who has the monitor (`out`);
    what a person let pass becomes a note.
    """
    recording = considered.recording
    if question is None or recording is None:
        return considered
    earlier = [_before(each, question) for each in neighbours]
    expected = out.person_key == question.person_key if out else None
    beside = Beside(recording=recording, marks=question.marks, earlier=earlier, expected=expected)
    found = doubts(beside, tools.rules.repeat)
    standing = [doubt for doubt in found if doubt.stands(waived)]
    if standing:
        also = [doubt.hold().sentence for doubt in standing[1:]]
        return replace(considered, hold=standing[0].hold(also))
    return _noted(considered, [_note(doubt) for doubt in found])


def _before(each: Neighbour, question: Question) -> Before:
    return Before(
        recording_id=each.recording_id,
        own=each.person_key == question.person_key,
        serial=each.serial,
        began=each.began,
        ended=each.ended,
        instants=frozenset(each.instants),
        marks=each.marks,
        order=each.order,
    )


def _note(doubt: Doubt) -> Finding:
    """It stands beside the result that a person decided; which recording it was about stays in the audit log."""
    return Finding(
        rule=doubt.rule.partition(":")[0],
        severity=Severity.NOTE,
        sentence=Phrase("A named person looked at a doubt about whose recording this is, and let it pass."),
    )


def _noted(considered: Considered, notes: list[Finding]) -> Considered:
    summary = considered.summary
    if not notes or summary is None:
        return considered
    return replace(considered, summary=replace(summary, findings=(*summary.findings, *notes)))

"""Recording, verdict and summary -> the facts that `preview --json` prints and the store keeps."""

from collections.abc import Iterator
from dataclasses import asdict
from decimal import Decimal

from gateway.model.facts import (
    AdequacyFacts,
    FindingFacts,
    HoldFacts,
    InterpretationFacts,
    NoteFacts,
    PeriodFacts,
    PreviewFacts,
    ReadingFacts,
    RecordingFacts,
    StatisticFacts,
    SummaryFacts,
)
from gateway.model.hold import Hold
from gateway.model.judgement import Examined, Judged
from gateway.model.quantity import Tenths
from gateway.model.recording import Reading, Recording
from gateway.model.summary import Summary


def facts_of(
    recording: Recording | None,
    examined: Examined | None,
    summary: Summary | None,
    hold: Hold | None,
    companion: str | None = None,
) -> PreviewFacts:
    """Everything about one file in plain values. `summary` None needs a `hold`; `companion`: see `PreviewFacts`."""
    if summary is None and hold is None:
        raise ValueError("a file without a summary is held")
    findings = summary.findings if summary else examined.findings if examined else ()
    return PreviewFacts(
        recording=_recording(recording, examined) if recording else None,
        findings=tuple(
            FindingFacts(rule=f.rule, severity=f.severity, sentence=f.sentence, rows=f.rows) for f in findings
        ),
        summary=_summary(summary) if summary else None,
        hold=HoldFacts(reason=hold.reason, sentence=hold.sentence, action=hold.action) if hold else None,
        companion=companion,
    )


def _recording(recording: Recording, examined: Examined | None) -> RecordingFacts:
    person = recording.person
    verdicts = {id(judged.reading): judged for judged in examined.judged} if examined else {}
    return RecordingFacts(
        source_map=recording.source.map_name,
        encoding=recording.source.encoding,
        identifier_system=person.identifier.system if person.identifier else None,
        identifier=person.identifier.value if person.identifier else None,
        family_name=person.family_name,
        given_name=person.given_name,
        birth_date=person.birth_date.isoformat() if person.birth_date else None,
        monitor_model=recording.monitor.model,
        monitor_serial=recording.monitor.serial,
        zone=recording.zone,
        began=recording.began.isoformat(),
        ended=recording.ended.isoformat(),
        asleep=tuple((span.start.isoformat(), span.end.isoformat()) for span in recording.diary.asleep),
        readings=tuple(_reading(reading, verdicts.get(id(reading))) for reading in recording.readings),
        notes=tuple(
            NoteFacts(at=note.at.isoformat(), kind=note.kind, text=note.text) for note in recording.diary.notes
        ),
        details=tuple(_details(recording)),
    )


def _details(recording: Recording) -> Iterator[tuple[str, str]]:
    """Facts that have no field of their own, by the name that they have here; what is not told is left out."""
    person, monitor, around = recording.person, recording.monitor, recording.circumstances
    given: dict[str, object] = {
        "sex": person.sex,
        "arm": monitor.arm,
        "cuff_size": monitor.cuff_size,
        "arm_circumference": monitor.arm_circumference,
        "order": around.order,
        "indication": around.indication,
        "treated": around.treated,
        "pregnancy_weeks": around.pregnancy_weeks,
        "irregular_pulse": around.irregular_pulse,
        "clinic_systolic": _plain(around.clinic_systolic),
        "clinic_diastolic": _plain(around.clinic_diastolic),
        "site": recording.site,
        **{f"programme_{name}": value for name, value in asdict(recording.schedule).items()},
    }
    for name, value in given.items():
        if value is not None:
            yield name, str(value)


def _reading(reading: Reading, judged: Judged | None) -> ReadingFacts:
    return ReadingFacts(
        row=reading.row,
        at=reading.at.isoformat(),
        use=judged.use if judged else reading.outcome,
        kind=reading.kind,
        systolic=_plain(reading.systolic),
        diastolic=_plain(reading.diastolic),
        mean=_plain(reading.mean),
        heart_rate=_plain(reading.heart_rate),
        why=(judged.why if judged else None) or reading.failure,
    )


def _plain(value: Tenths | None) -> Decimal | None:
    """Whole numbers stay whole, tenths keep their decimal."""
    if value is None:
        return None
    return Decimal(value // 10) if value % 10 == 0 else Decimal(value).scaleb(-1)


def _summary(summary: Summary) -> SummaryFacts:
    return SummaryFacts(
        guideline=summary.rules.guideline,
        review=summary.review.sentence,
        conclusion=summary.conclusion,
        periods=tuple(_periods(summary)),
        statistics=tuple(
            StatisticFacts(
                name=s.name, period=s.period, day=s.day, value=s.value, unit=s.unit, count=s.count, reason=s.reason
            )
            for s in summary.statistics
        ),
        adequacy=AdequacyFacts(
            verdict=summary.adequacy.verdict, rule=summary.adequacy.rule, reasons=summary.adequacy.reasons
        ),
        interpretations=tuple(
            InterpretationFacts(
                subject=i.subject, period=i.period, day=i.day, result=i.result, flag=i.flag, text=i.text
            )
            for i in summary.interpretations
        ),
        comparison=summary.comparison,
    )


def _periods(summary: Summary) -> list[PeriodFacts]:
    found = []
    for period in summary.windows.periods:
        count = summary.adequacy.count(period.name, period.day)
        if count is None:
            continue
        found.append(
            PeriodFacts(
                period=period.name,
                day=period.day,
                origin=summary.windows.origin_of(period.day),
                intervals=tuple((span.start.isoformat(), span.end.isoformat()) for span in period.means),
                scheduled=count.scheduled,
                attempted=count.attempted,
                valid=count.valid,
                excluded=count.excluded,
                failed=count.failed,
                percent=count.percent,
                adequate=count.adequate,
            )
        )
    return found

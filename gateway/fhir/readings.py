"""Single readings: the vital-signs panel of FHIR R4 (profile bp), one Observation for each attempt that is filed."""

from collections.abc import Iterator

from gateway.fhir.content import Rank, Resource
from gateway.fhir.elements import (
    Element,
    Scope,
    absent,
    claiming,
    component,
    concept,
    measured,
    moment,
    notes,
    observation,
    plain,
    quantity,
    roles,
    worded,
)
from gateway.fhir.narrative import of_reading
from gateway.mapping.profile import Claim
from gateway.model import (
    DiaryNote,
    HeartRateChoice,
    Judged,
    Kind,
    NoteKind,
    PeriodName,
    ReadingsChoice,
    Tenths,
    Unit,
    Use,
    WindowOrigin,
)

_KINDS = {
    Kind.REPEAT: "Repeated after a failed attempt.",
    Kind.MANUAL: "Started by hand.",
    Kind.FITTING: "Taken while the monitor was fitted.",
}


def readings(scope: Scope) -> Iterator[Resource]:
    """Observations of the attempts that this destination wants, in the file's order."""
    for judged, role in filed_readings(scope):
        yield Resource(Rank.READING, claiming(scope, Claim.READING, _panel(scope, judged, role)))
        if scope.filing.heart_rate is HeartRateChoice.SEPARATE and _heart_rate(judged) is not None:
            rate = _separate_heart_rate(scope, judged, role)
            yield Resource(Rank.READING, claiming(scope, Claim.HEART_RATE, rate))


def filed_readings(scope: Scope) -> list[tuple[Judged, str]]:
    """Attempts that are filed, with the role that gives each its id."""
    choice = scope.filing.readings
    wanted = {
        ReadingsChoice.VALID: {Use.VALID},
        ReadingsChoice.ALL: set(Use),
        ReadingsChoice.NONE: set[Use](),
    }[choice]
    return [(judged, role) for judged, role in roles(scope.summary.judged) if judged.use in wanted]


def reading_id(scope: Scope, role: str) -> str:
    """Id of a reading's Observation."""
    return scope.identity.uuid(f"reading {role}")


def _panel(scope: Scope, judged: Judged, role: str) -> Element:
    reading = judged.reading
    panel = observation(
        scope,
        reading_id(scope, role),
        "vital-signs",
        concept(scope, "reading"),
        extension=[*_asleep_or_awake(scope, judged), *_posture(scope, judged)],
        effectiveDateTime=moment(reading.at),
        method=concept(scope, "method"),
        bodySite=arm(scope),
        note=_remarks(scope, judged),
        component=[
            _pressure(scope, "reading-systolic", reading.systolic, judged),
            _pressure(scope, "reading-diastolic", reading.diastolic, judged),
            *_further(scope, judged),
        ],
    )
    return panel | {"text": of_reading(panel)}


def _pressure(scope: Scope, name: str, value: Tenths | None, judged: Judged) -> Element:
    if value is None:
        return component(scope, name, absent(scope, "error" if judged.use is Use.FAILED else "unknown"))
    return component(scope, name, {"valueQuantity": quantity(scope, measured(value), Unit.MMHG)})


def _further(scope: Scope, judged: Judged) -> Iterator[Element]:
    reading, rate = judged.reading, _heart_rate(judged)
    if reading.mean is not None:
        yield _pressure(scope, "reading-mean", reading.mean, judged)
    if rate is not None and scope.filing.heart_rate is HeartRateChoice.COMPONENT:
        value = {"valueQuantity": quantity(scope, measured(rate), Unit.PER_MINUTE)}
        yield component(scope, "reading-heart-rate", value)
    if judged.use is Use.EXCLUDED:
        yield component(scope, "excluded-by-rule", {"valueBoolean": True}, _rule_named(scope, judged))
    if judged.use is Use.LISTED:
        yield component(scope, "listed-only", {"valueBoolean": True})


def _rule_named(scope: Scope, judged: Judged) -> str:
    """The rule stands in the text: a coded value may be nothing but a unit there (profile bp, ucum-vitals-common)."""
    meaning = scope.codes.meaning("excluded-by-rule", scope.filing.snomed)
    return f"{meaning.text}: {judged.rule or 'not named'}"


def _separate_heart_rate(scope: Scope, judged: Judged, role: str) -> Element:
    rate = _heart_rate(judged)
    assert rate is not None  # noqa: S101  (the caller asked)
    body = observation(
        scope,
        scope.identity.uuid(f"heart rate {role}"),
        "vital-signs",
        concept(scope, "reading-heart-rate"),
        extension=_asleep_or_awake(scope, judged),
        effectiveDateTime=moment(judged.reading.at),
        valueQuantity=quantity(scope, measured(rate), Unit.PER_MINUTE),
    )
    return body | {"text": of_reading(body)}


def _heart_rate(judged: Judged) -> Tenths | None:
    return None if judged.heart_rate_excluded else judged.reading.heart_rate


def arm(scope: Scope) -> Element | None:
    """The arm that wore the cuff, None where nobody said."""
    worn = scope.recording.monitor.arm
    return concept(scope, f"arm-{worn.value}") if worn else None


def _asleep_or_awake(scope: Scope, judged: Judged) -> list[Element]:
    """Said only where the person said it: fixed windows know nothing of one person's sleep."""
    windows = scope.summary.windows
    if not scope.profile.sleep_extension or windows.origin not in (WindowOrigin.DIARY, WindowOrigin.MARKED):
        return []
    for period in windows.periods:
        if period.day in windows.by_clock:
            continue
        if period.name is not PeriodName.WHOLE and period.counts(judged.reading.at):
            state = concept(scope, period.name.value)
            return [{"url": scope.profile.sleep_extension, "valueCodeableConcept": state}]
    return []


def posture_note(scope: Scope, judged: Judged) -> DiaryNote | None:
    """The body position that the person wrote down for this very reading, once; nothing is concluded from others."""
    if not scope.profile.position_extension:
        return None
    found = [
        note
        for note in scope.recording.diary.notes
        if note.kind is NoteKind.POSTURE and note.at == judged.reading.at and plain(note.text)
    ]
    return found[0] if len(found) == 1 else None


def _posture(scope: Scope, judged: Judged) -> Iterator[Element]:
    if note := posture_note(scope, judged):
        position = worded(scope, "posture", plain(note.text) or "")
        yield {"url": scope.profile.position_extension, "valueCodeableConcept": position}


def _remarks(scope: Scope, judged: Judged) -> list[Element]:
    reading, say, rate = judged.reading, scope.say, judged.heart_rate_excluded
    return notes(
        say(_KINDS[reading.kind]) if reading.kind in _KINDS else None,
        say("The monitor gave no pressure; its mark: {mark}", mark=reading.failure) if reading.failure else None,
        judged.why if judged.use in (Use.EXCLUDED, Use.LISTED) else None,
        say("The monitor marked an irregular pulse.") if reading.irregular else None,
        say("Heart rate left out by rule {rule}.", rule=rate) if rate else None,
        reading.note,
    )

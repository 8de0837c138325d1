"""Building blocks of resources, and everything that composing draws on."""

import re
import unicodedata
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from gateway.fhir.claiming import shortfalls
from gateway.fhir.identity import SYSTEM, Identity
from gateway.mapping.codes import Codes, Coding
from gateway.mapping.language import ENGLISH, Language
from gateway.mapping.profile import Claim, Profile
from gateway.model import Filing, Judged, Recording, Summary, Tenths, Unit
from gateway.model.phrase import Phrase

Element = dict[str, Any]
TAG = re.compile(r"<(?=[A-Za-z/!?])")


@dataclass(frozen=True, slots=True, kw_only=True)
class Scope:
    """One recording on its way to one destination. `issued` is fixed when the recording was processed."""

    recording: Recording
    summary: Summary
    filing: Filing
    identity: Identity
    codes: Codes
    profile: Profile
    issued: datetime
    software: str
    language: Language = ENGLISH

    def say(self, template: str, /, **parts: object) -> str:
        """A sentence of ours in the language of the site."""
        return self.language.tell(Phrase(template, **parts))

    @property
    def days(self) -> int:
        """1, or 2 for a 48-hour recording."""
        return max((period.day for period in self.summary.windows.periods), default=1)

    def day_text(self, day: int) -> str:
        """ ", day 2" where there is more than one day."""
        return f", day {day}" if self.days > 1 else ""


def filled(**elements: Any) -> Element:
    """Only the elements that hold something: FHIR knows no empty element."""
    return {name: value for name, value in elements.items() if value is not None and value not in ("", [], {})}


def plain(text: str | None) -> str | None:
    """Free text of a file as FHIR and XML can hold it: no control characters, no blanks at the edge, None for none.

    Sources: FHIR R4 `string`; XML 1.0, production 2 (Char).
    """
    kept = "".join(
        " " if unicodedata.category(letter) == "Cc" else letter
        for letter in text or ""
        if unicodedata.category(letter) not in ("Cs", "Cn")
    )
    return " ".join(kept.split()) or None


def concept(scope: Scope, name: str, text: str | None = None) -> Element:
    """A CodeableConcept: the codings of a concept that may be sent, and a telling text."""
    meaning = scope.codes.meaning(name, scope.filing.snomed)
    return filled(coding=[coding_of(coding) for coding in meaning.codings], text=text or meaning.text)


def worded(scope: Scope, kind: str, text: str) -> Element:
    """Free text of an export as a CodeableConcept: with a code where `mappings/codes` knows the word, else text."""
    name = f"{kind}-{'-'.join(text.casefold().split())}"
    return concept(scope, name, text) if name in scope.codes.concepts else {"text": text}


def coding_of(coding: Coding) -> Element:
    """A Coding."""
    return {"system": coding.system, "code": coding.code, "display": coding.display}


def quantity(scope: Scope, value: int | Decimal, unit: Unit | str) -> Element:
    """A Quantity in UCUM with the unit as people write it."""
    ucum = scope.codes.coding(f"ucum:{unit}")
    unit_text = scope.profile.units.get(ucum.code, ucum.display)
    return {"value": value, "unit": unit_text, "system": ucum.system, "code": ucum.code}


def measured(value: Tenths) -> int | Decimal:
    """A measured value: whole numbers stay whole, others have one decimal."""
    return value // 10 if value % 10 == 0 else Decimal(value).scaleb(-1)


def moment(instant: datetime) -> str:
    """A FHIR dateTime or instant with seconds and the patient's own offset."""
    return instant.isoformat(timespec="seconds")


def span(start: datetime, end: datetime) -> Element:
    """A Period."""
    return {"start": moment(start), "end": moment(end)}


def link(resource_id: str) -> Element:
    """A reference to another resource of ours, by our own UUID."""
    return {"reference": f"urn:uuid:{resource_id}"}


def identifiers(scope: Scope, resource_id: str) -> list[Element]:
    """The resource's own identifier and the recording's, so that one search counts a whole recording."""
    return [{"system": SYSTEM, "value": f"urn:uuid:{key}"} for key in (resource_id, scope.identity.recording_key)]


def subject(scope: Scope) -> Element:
    """A logical reference: whose it is by number, before any record server was asked.

    Raises ValueError for a recording without an identifier; such a recording is held long before.
    """
    number = scope.recording.person.identifier
    if number is None:
        raise ValueError("a recording without an identifier is never composed")
    return {"type": "Patient", "identifier": {"system": number.system, "value": number.value}}


def based_on(scope: Scope) -> list[Element]:
    """The order, by its number, when the export names one."""
    order = plain(scope.recording.circumstances.order)
    return [{"type": "ServiceRequest", "identifier": {"value": order}}] if order else []


def performer(scope: Scope) -> list[Element]:
    """The organization that answers for the result."""
    return [{"type": "Organization", "display": scope.filing.performer}]


def monitor_link(scope: Scope) -> Element | None:
    """The monitor: its Device when the serial is known, else only its model's name, None when nothing is known."""
    monitor = scope.recording.monitor
    if monitor.serial:
        return link(monitor_id(scope))
    model = plain(monitor.model)
    return {"display": model} if model else None


def monitor_id(scope: Scope) -> str:
    """Id of the monitor's Device."""
    return scope.identity.device("monitor", scope.recording.monitor.serial or "-")


def gateway_id(scope: Scope) -> str:
    """Id of the gateway's own Device."""
    return scope.identity.device("gateway", "gateway")


def claiming(scope: Scope, claim: Claim, body: Element) -> Element:
    """The resource with the profiles that this destination wants claimed on its kind, those that it meets."""
    wanted = scope.profile.claims.get(claim, ())
    met = [published.url for published in wanted if not shortfalls(body, published, scope.codes)]
    return body | {"meta": {"profile": met}} if met else body


def notes(*texts: str | None) -> list[Element]:
    """Annotations, empty ones left out. Their text is markdown, where a tag of an export must not act as one."""
    return [{"text": TAG.sub("&lt;", said)} for text in texts if (said := plain(text))]


def observation(scope: Scope, resource_id: str, category: str, code: Element, **more: Any) -> Element:
    """An Observation with everything that all of ours share."""
    return filled(
        resourceType="Observation",
        id=resource_id,
        identifier=identifiers(scope, resource_id),
        basedOn=based_on(scope),
        status="final",
        category=[concept(scope, category)],
        code=code,
        subject=subject(scope),
        issued=moment(scope.issued),
        performer=performer(scope),
        device=monitor_link(scope),
        **more,
    )


def component(scope: Scope, name: str, value: Mapping[str, Any], text: str | None = None, **more: Any) -> Element:
    """One component: what it is and its value (`{"valueQuantity": …}`) or why there is none."""
    return filled(code=concept(scope, name, text), **value, **more)


def absent(scope: Scope, why: str) -> Element:
    """Why there is no value: "unknown" or "error"."""
    return {"dataAbsentReason": concept(scope, f"absent-{why}")}


def roles(judged: Iterable[Judged]) -> list[tuple[Judged, str]]:
    """Each attempt with the role that gives it its id: its instant, and which attempt of that instant it is."""
    seen: Counter[str] = Counter()
    named = []
    for item in judged:
        instant = item.reading.at.astimezone(UTC).isoformat(timespec="seconds")
        seen[instant] += 1
        named.append((item, f"{instant} {seen[instant]}"))
    return named

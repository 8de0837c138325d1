"""What our codes mean, as FHIR terminology: a CodeSystem of our own codes, a ValueSet of every code we may send.

For the people who run a record's terminology; shipped as files, never posted to a record.
"""

from collections.abc import Iterator

from gateway.fhir.elements import Element, filled
from gateway.fhir.narrative import narrative, paragraphs
from gateway.mapping.codes import Code, Codes, CodeStanding, CodeSystemFile

OWN = "own"
PUBLISHER = "Ambulatory blood pressure gateway"


def terminology(codes: Codes) -> tuple[Element, ...]:
    """CodeSystem and ValueSet (R4), made from the code files; the same files give the same resources."""
    return _code_system(codes.systems[OWN]), _value_set(codes)


def _code_system(own: CodeSystemFile) -> Element:
    return filled(
        resourceType="CodeSystem",
        id="codes",
        text=narrative(own.title, paragraphs(f"{code.code}: {code.display}" for code in own.codes)),
        url=own.system,
        version="1",
        name="AmbulatoryBloodPressureGatewayCodes",
        title=own.title,
        status="active",
        experimental=False,
        publisher=PUBLISHER,
        description=own.title,
        caseSensitive=True,
        content="complete",
        count=len(own.codes),
        concept=[{"code": code.code, "display": code.display} for code in own.codes],
    )


def _value_set(codes: Codes) -> Element:
    systems = [system for system in codes.systems.values() if _sendable(system)]
    title = "Every code that the gateway may send"
    listed = (f"{system.title}: {', '.join(code.code for code in _sendable(system))}" for system in systems)
    return filled(
        resourceType="ValueSet",
        id="sendable",
        text=narrative(title, paragraphs(listed)),
        url=f"{codes.systems[OWN].system}.1",
        version="1",
        name="AmbulatoryBloodPressureGatewaySendable",
        title=title,
        status="active",
        experimental=False,
        publisher=PUBLISHER,
        description=f"{title}; SNOMED CT only where the site holds a licence.",
        copyright=" ".join(system.notice for system in systems if system.notice),
        compose={"include": list(_includes(systems))},
    )


def _includes(systems: list[CodeSystemFile]) -> Iterator[Element]:
    for system in systems:
        concepts = [{"code": code.code, "display": code.display} for code in _sendable(system)]
        yield {"system": system.system, "concept": concepts}


def _sendable(system: CodeSystemFile) -> list[Code]:
    return [code for code in system.codes if code.standing is not CodeStanding.INFERRED]

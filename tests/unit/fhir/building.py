"""Composed recordings for the tests, by the real analysis; a test states only what it is about."""

from functools import cache
from pathlib import Path
from typing import Any

from gateway.analyse import summarise
from gateway.fhir import Identity, Resource, compose, recording_key
from gateway.mapping.codes import Codes, gather
from gateway.mapping.parse import parse
from gateway.mapping.profile import Profile
from gateway.model import Filing, Recording, Summary
from tests.builders import NOW, a_recording
from tests.unit.analyse.examined import examined_of, rules_with

MAPPINGS = Path(__file__).parents[3] / "mappings"
STORE_KEY = b"a key only for tests, 32 bytes.."
PAGE = b"%PDF-1.7\n% a page only for tests\n"
SOFTWARE = "0.1.0"


@cache
def all_codes() -> Codes:
    return gather({path.name: path.read_bytes() for path in sorted((MAPPINGS / "codes").glob("*.toml"))})


@cache
def international() -> Profile:
    path = MAPPINGS / "profiles" / "international.toml"
    return parse(path.read_bytes(), Profile, path.name)


def a_filing(**changes: Any) -> Filing:
    return Filing(**{"destination": "record", "performer": "Example Surgery", **changes})


def identity_of(recording: Recording, issue: int = 1) -> Identity:
    person, serial = recording.person.identifier, recording.monitor.serial
    assert person is not None
    return Identity(STORE_KEY, recording_key(STORE_KEY, person, serial, recording.began, issue))


def a_summary(recording: Recording, **examined: Any) -> Summary:
    return summarise(recording, examined_of(recording, **examined), rules_with())


def composed(
    recording: Recording | None = None,
    summary: Summary | None = None,
    page: bytes | None = PAGE,
    examined: dict[str, Any] | None = None,
    companion: bytes | None = None,
    **filing: Any,
) -> tuple[Resource, ...]:
    recording = recording or a_recording()
    return compose(
        recording,
        summary or a_summary(recording, **(examined or {})),
        a_filing(**filing),
        identity_of(recording),
        all_codes(),
        international(),
        NOW,
        page,
        SOFTWARE,
        companion=companion,
    )


def bodies(resources: tuple[Resource, ...], kind: str, loinc: str | None = None) -> list[dict[str, Any]]:
    """Bodies of one type, for Observations also of one LOINC code."""
    found = [dict(resource.body) for resource in resources if resource.type == kind]
    return [body for body in found if loinc is None or loinc in codes_of(body["code"])]


def codes_of(concept: Any) -> list[str]:
    return [coding["code"] for coding in concept.get("coding", ())]


def part(body: Any, code: str) -> dict[str, Any]:
    """The one component that carries a code."""
    (found,) = [item for item in body["component"] if code in codes_of(item["code"])]
    return dict(found)

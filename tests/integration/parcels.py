"""A small recording in destination-neutral form: a device, readings, a mean over them, a report, its Provenance."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

from gateway.fhir import SYSTEM, Identity, Parcel, Rank, Resource
from gateway.model import Identifier, Person

NHS = "https://fhir.nhs.uk/Id/nhs-number"
BEGAN = datetime(2026, 3, 3, 9, 0, tzinfo=UTC)
KEY = b"k" * 32
PERSON = Person(
    identifier=Identifier(NHS, "9990000018"),
    family_name="Zztestname",
    given_name="Alex",
    birth_date=date(1961, 4, 9),
)
PDF = "JVBERi0xLjcK" * 400


def a_patient(**changes: Any) -> dict[str, Any]:
    patient = {
        "resourceType": "Patient",
        "id": "patient-1",
        "active": True,
        "identifier": [{"system": NHS, "value": "9990000018"}],
        "name": [{"family": "Zztestname", "given": ["Alex"]}],
        "birthDate": "1961-04-09",
    }
    return {key: value for key, value in (patient | changes).items() if value is not None}


def a_parcel(
    recording: str = "11111111-1111-8111-8111-111111111111",
    readings: int = 6,
    person: Person = PERSON,
    serial: str = "EX-0001",
) -> Parcel:
    identity = Identity(KEY, recording)
    device = identity.device("monitor", serial)
    times = [BEGAN + timedelta(minutes=30 * number) for number in range(readings)]
    reading_ids = [identity.uuid(f"reading {time.isoformat()}") for time in times]
    mean, report, provenance = (identity.uuid(role) for role in ("mean", "report", "provenance"))
    assert person.identifier is not None
    number = {"system": person.identifier.system, "value": person.identifier.value}
    subject = {"type": "Patient", "identifier": number}

    def numbers(own: str, shared: bool = False) -> list[dict[str, str]]:
        values = [own] if shared else [own, recording]
        return [{"system": SYSTEM, "value": f"urn:uuid:{value}"} for value in values]

    def pressure(own: str, code: str, high: Decimal, **more: Any) -> dict[str, Any]:
        return {
            "resourceType": "Observation",
            "id": own,
            "identifier": numbers(own),
            "status": "final",
            "code": {"coding": [{"system": "http://loinc.org", "code": code}]},
            "subject": subject,
            "device": {"reference": f"urn:uuid:{device}"},
            "component": [
                {
                    "code": {"coding": [{"system": "http://loinc.org", "code": "8480-6"}]},
                    "valueQuantity": {
                        "value": high,
                        "unit": "mmHg",
                        "system": "http://unitsofmeasure.org",
                        "code": "mm[Hg]",
                    },
                }
            ],
            **more,
        }

    bodies: list[tuple[Rank, dict[str, Any]]] = [
        (
            Rank.DEVICE,
            {
                "resourceType": "Device",
                "id": device,
                "identifier": numbers(device, shared=True),
                "serialNumber": serial,
            },
        )
    ]
    for time, own in zip(times, reading_ids, strict=True):
        moment = time.isoformat()
        bodies.append((Rank.READING, pressure(own, "85354-9", Decimal("131.0"), effectiveDateTime=moment)))
    period = {"start": times[0].isoformat(), "end": times[-1].isoformat()}
    derived = [{"reference": f"urn:uuid:{own}"} for own in reading_ids]
    bodies.append(
        (Rank.SUMMARY, pressure(mean, "96607-7", Decimal("131.0"), effectivePeriod=period, derivedFrom=derived))
    )
    bodies.append(
        (
            Rank.REPORT,
            {
                "resourceType": "DiagnosticReport",
                "id": report,
                "identifier": numbers(report),
                "status": "preliminary",
                "code": {"text": "Ambulatory blood pressure recording"},
                "subject": subject,
                "result": [{"reference": f"urn:uuid:{mean}"}],
                "conclusion": "Automated, not yet reviewed. Awake average 131.0/80.0 mmHg.",
                "presentedForm": [{"contentType": "application/pdf", "data": PDF, "size": 3600}],
            },
        )
    )
    bodies.append(
        (
            Rank.PROVENANCE,
            {
                "resourceType": "Provenance",
                "id": provenance,
                "meta": {"tag": [{"system": SYSTEM, "code": f"urn:uuid:{provenance}"}]},
                "target": [{"reference": f"urn:uuid:{report}"}],
                "recorded": "2026-03-05T12:00:00Z",
                "agent": [{"who": {"reference": f"urn:uuid:{device}"}}],
            },
        )
    )
    return Parcel(
        person=person,
        ended=BEGAN + timedelta(hours=24),
        resources=tuple(Resource(rank, body) for rank, body in bodies),
    )

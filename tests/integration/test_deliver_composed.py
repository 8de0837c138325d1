"""A whole recording as it is really composed goes into a real record in every way, and means the same there."""

from dataclasses import replace
from functools import partial

import pytest
from scenario.record import RecordServer

from gateway import fhir
from gateway.deliver import Server
from gateway.model import Delivered, Filed, Identifier, Way
from gateway.settings.destination import Destination
from tests.builders import a_person, a_recording
from tests.integration.conftest import EXAMPLES, WAYS
from tests.integration.parcels import a_patient
from tests.integration.proxy import Proxy
from tests.unit.fhir.building import all_codes, composed

pytestmark = pytest.mark.service


@pytest.mark.parametrize("name", WAYS)
def test_a_composed_recording_is_filed_and_read_back(record: RecordServer, name: str) -> None:
    number = f"COMPOSED-{name}"
    person = a_person(identifier=Identifier(EXAMPLES, number))
    monitor = replace(a_recording().monitor, serial=f"EX-{name}")
    recording = a_recording(person=person, monitor=monitor)
    resources = composed(recording)
    parcel = fhir.Parcel(person=person, ended=recording.ended, resources=resources)
    names = [{"family": person.family_name, "given": [person.given_name]}]
    numbers = [{"system": EXAMPLES, "value": number}]
    record.put(a_patient(id=f"composed-{name}", identifier=numbers, name=names, birthDate="1961-04-09"))
    ledger: dict[str, Filed] = {}

    def note(way: Way, rows: object) -> None:
        ledger.update({row.resource_id: row for row in rows})  # type: ignore[attr-defined]

    with Proxy(record.base, WAYS[name]) as proxy:
        destination = Destination(name="record", url=proxy.base, readings="valid", most_entries=40)  # type: ignore[arg-type]
        server = Server(destination, faults=partial(fhir.check_bundle, codes=all_codes()))
        answer = server.file(fhir.unpack(fhir.pack(parcel)), None, {}, note)
    assert isinstance(answer, Delivered)
    assert answer.count == len(resources) == len(ledger)
    readings = record.search("Observation", patient=f"Patient/composed-{name}", code="http://loinc.org|85354-9")
    assert len(readings) == sum(resource.rank is fhir.Rank.READING for resource in resources)

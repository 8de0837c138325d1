"""A whole recording as it is really composed goes into a real record in every way, and means the same there."""

from base64 import b64decode
from dataclasses import replace
from functools import partial
from hashlib import sha1
from typing import Any

import pytest
from scenario.record import RecordServer

from gateway import fhir
from gateway.deliver import Server
from gateway.model import Answer, Delivered, Filed, HoldReason, Identifier, Rejected, Way
from gateway.settings.destination import Destination
from tests.builders import a_person, a_recording
from tests.integration.conftest import EXAMPLES, WAYS
from tests.integration.parcels import a_patient
from tests.integration.proxy import Proxy
from tests.unit.fhir.building import PAGE, all_codes, composed

pytestmark = pytest.mark.service


def test_the_page_is_filed_as_a_binary_and_found_through_the_report(record: RecordServer) -> None:
    assert isinstance(filed_and_read_back(record, "put", "binary", ("Binary",), report_binary=True), Delivered)
    (report,) = record.search("DiagnosticReport", patient="Patient/composed-binary")
    attachment = report["presentedForm"][0]
    assert "data" not in attachment
    binary = record.read(*attachment["url"].split("/")[-2:])
    assert binary["contentType"] == "application/pdf"
    page = b64decode(binary["data"])
    assert page == PAGE
    assert attachment["size"] == len(page)
    assert b64decode(attachment["hash"]) == sha1(page, usedforsecurity=False).digest()


def test_a_server_that_declares_no_binary_gets_nothing_in_part(record: RecordServer) -> None:
    answer = filed_and_read_back(record, "put", "no-binary", report_binary=True)
    assert isinstance(answer, Rejected)
    assert answer.hold.reason is HoldReason.RECORD_UNSUITABLE
    assert "Binary" in answer.hold.detail
    assert record.search("DiagnosticReport", patient="Patient/composed-no-binary") == []


@pytest.mark.parametrize("name", WAYS)
def test_a_composed_recording_is_filed_and_read_back(record: RecordServer, name: str) -> None:
    assert isinstance(filed_and_read_back(record, name, name), Delivered)
    readings = record.search("Observation", patient=f"Patient/composed-{name}", code="http://loinc.org|85354-9")
    assert len(readings) == sum(resource.rank is fhir.Rank.READING for resource in composed())


def filed_and_read_back(
    record: RecordServer, way: str, name: str, undeclared: tuple[str, ...] = (), **choices: Any
) -> Answer:
    number = f"COMPOSED-{name}"
    person = a_person(identifier=Identifier(EXAMPLES, number))
    monitor = replace(a_recording().monitor, serial=f"EX-{name}")
    recording = a_recording(person=person, monitor=monitor)
    resources = composed(recording, **choices)
    parcel = fhir.Parcel(person=person, ended=recording.ended, resources=resources)
    names = [{"family": person.family_name, "given": [person.given_name]}]
    numbers = [{"system": EXAMPLES, "value": number}]
    record.put(a_patient(id=f"composed-{name}", identifier=numbers, name=names, birthDate="1961-04-09"))
    ledger: dict[str, Filed] = {}

    def note(way: Way, rows: object) -> None:
        ledger.update({row.resource_id: row for row in rows})  # type: ignore[attr-defined]

    with Proxy(record.base, WAYS[way]) as proxy:
        proxy.undeclared = undeclared
        destination = Destination(name="record", url=proxy.base, readings="valid", most_entries=40, **choices)  # type: ignore[arg-type]
        server = Server(destination, faults=partial(fhir.check_bundle, codes=all_codes()))
        answer = server.file(fhir.unpack(fhir.pack(parcel)), None, {}, note)
    if isinstance(answer, Delivered):
        assert answer.count == len(resources) == len(ledger)
    return answer

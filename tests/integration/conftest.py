"""Real servers for the tests: one record for the whole session, one proxy and one new person for each story."""

import itertools
import uuid
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest
from scenario.record import RecordServer

from gateway.deliver import Server
from gateway.fhir import SYSTEM, Parcel
from gateway.model import Answer, Filed, Identifier, Way
from gateway.settings.destination import Destination
from gateway.store import Store
from tests.databases import Place
from tests.integration.parcels import PERSON, a_parcel, a_patient
from tests.integration.proxy import BATCH, CONDITIONAL, TAG, TRANSACTION, UPDATE_CREATE, Proxy
from tests.unit.store.cases import a_store

EXAMPLES = "urn:oid:2.999.1"
"""An identifier system under the OID that is kept for examples (ITU-T X.660)."""
COUNTER = itertools.count(1)

WAYS = {
    "put": frozenset(),
    "conditional": frozenset({UPDATE_CREATE}),
    "search-first": frozenset({UPDATE_CREATE, CONDITIONAL}),
}
BATCHES = {f"{name}, batch only": poor | {TRANSACTION} for name, poor in WAYS.items()}
SINGLES = {f"{name}, one at a time": poor | {TRANSACTION, BATCH} for name, poor in WAYS.items()}
NO_TAG = {
    "conditional, no _tag": WAYS["conditional"] | {TAG},
    "conditional, batch only, no _tag": BATCHES["conditional, batch only"] | {TAG},
    "search-first, no _tag": WAYS["search-first"] | {TAG},
}


@pytest.fixture
def store(place: Place) -> Iterator[Store]:
    """An empty store, once on each database."""
    with a_store(place) as opened:
        yield opened


@pytest.fixture(scope="session")
def record(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RecordServer]:
    with RecordServer(tmp_path_factory.mktemp("record")) as server:
        yield server


@dataclass
class Story:
    """One new person on the record, one recording, one proxy in between, and the ledger the store would keep."""

    record: RecordServer
    proxy: Proxy
    parcel: Parcel
    settings: dict[str, Any]
    patient_id: str
    ledger: dict[str, Filed] = field(default_factory=dict)
    way: Way | None = None
    uncertain: bool = False
    server: Server = field(init=False)

    def __post_init__(self) -> None:
        self.server = self.new_server()

    def new_server(self, **changes: Any) -> Server:
        """A writer as after a restart: nothing learnt, nothing cached."""
        named = {"name": "record", "url": self.proxy.base, "readings": "valid", **self.settings, **changes}
        return Server(Destination.model_validate(named))

    def note(self, way: Way, rows: Any) -> None:
        self.way = way
        self.ledger.update({row.resource_id: row for row in rows})

    def file(self, **changes: Any) -> Answer:
        """One attempt, as the pipeline makes it, with what earlier attempts left behind."""
        answer = self.server.file(
            self.parcel, self.way, dict(self.ledger), self.note, uncertain=self.uncertain, **changes
        )
        self.uncertain = getattr(answer, "outcome_unknown", False)
        return answer

    def key(self) -> str:
        """The recording's own identifier: the one that most resources share."""
        report = next(item for item in self.parcel.resources if item.type == "DiagnosticReport")
        return next(item["value"] for item in report.body["identifier"] if not item["value"].endswith(report.id))

    def held(self) -> dict[str, list[dict[str, Any]]]:
        """What the record holds of this recording, by type, asked directly."""
        token = f"{SYSTEM}|{self.key()}"
        found = {kind: self.record.search(kind, identifier=token) for kind in ("Observation", "DiagnosticReport")}
        device = next(item for item in self.parcel.resources if item.type == "Device")
        found["Device"] = self.record.search("Device", identifier=f"{SYSTEM}|urn:uuid:{device.id}")
        found["Provenance"] = [
            item
            for report in found["DiagnosticReport"]
            for item in self.record.search("Provenance", target=f"DiagnosticReport/{report['id']}")
        ]
        return found

    def assert_there_once(self) -> None:
        """Everything exactly once, first version, no second one in its history, in the right person's record."""
        held = self.held()
        wanted: dict[str, int] = {}
        for resource in self.parcel.resources:
            wanted[resource.type] = wanted.get(resource.type, 0) + 1
        assert {kind: len(items) for kind, items in held.items()} == wanted
        for kind, items in held.items():
            for item in items:
                assert item["meta"]["versionId"] == "1"
                assert self.record.versions(kind, item["id"]) == 1
                if "subject" in item:
                    assert item["subject"]["reference"] == f"Patient/{self.patient_id}"


Tell = Callable[..., Story]


@pytest.fixture
def tell(record: RecordServer) -> Iterator[Tell]:
    """A new story: `tell(poor, patient={...changes...}, **settings)`."""
    with ExitStack() as open_proxies:

        def begin(
            poor: frozenset[str] = frozenset(),
            patient: dict[str, Any] | None = None,
            through: Callable[[str, frozenset[str]], Proxy] = Proxy,
            readings: int = 6,
            **settings: Any,
        ) -> Story:
            number = f"EX-{next(COUNTER):06d}-{uuid.uuid4().hex[:6]}"
            person = replace(PERSON, identifier=Identifier(EXAMPLES, number))
            patient_id = f"p-{uuid.uuid4()}"
            numbers = [{"system": EXAMPLES, "value": number}]
            if patient != {}:
                record.put(a_patient(**{"id": patient_id, "identifier": numbers} | (patient or {})))
            proxy = open_proxies.enter_context(through(record.base, poor))
            recording, serial = str(uuid.uuid4()), f"EX-{uuid.uuid4().hex[:8]}"
            parcel = a_parcel(recording, readings, person, serial)
            return Story(record, proxy, parcel, settings, patient_id)

        yield begin


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path

"""The end: what came in is held against what the record server holds, and that against the gateway's books."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from typing import Any

from scenario.people import NHS
from scenario.record import RecordServer

from gateway.errors import StoreError
from gateway.model import Shown
from gateway.store import Store, Story
from gateway.store.rows import opaque_id
from tests.databases import Place
from tests.ordeal.files import File

LEAST_OBSERVATIONS = 30
"""Of one recording of 40 attempts, of which a few fail: readings and summary."""
KINDS = ("DiagnosticReport", "Observation")


@dataclass
class Reckoning:
    """`lost` and `doubled` hold one sentence for each find. `rewritten`: versions beyond the first."""

    recordings: int = 0
    files: int = 0
    delivered: int = 0
    held: int = 0
    repeated: int = 0
    resources: int = 0
    rewritten: int = 0
    lost: list[str] = field(default_factory=list)
    doubled: list[str] = field(default_factory=list)


def reckon(dropped: Sequence[File], place: Place, record: RecordServer) -> Reckoning:
    """Every dropped file by its hash in the store, every person by the record's own search."""
    found = Reckoning(recordings=len({file.name[:5] for file in dropped}), files=len(dropped))
    with Store.open(place.address) as store:
        by_recording = _by_recording(dropped, store, found)
    delivered = Counter[str]()
    for name, (number, stories) in by_recording.items():
        done = sum(story.shown is Shown.DELIVERED for story in stories)
        delivered[number] += done
        found.delivered += done
        found.held += sum(story.shown is Shown.HELD for story in stories)
        if name and done != 1:
            states = ", ".join(story.shown for story in stories)
            (found.doubled if done else found.lost).append(f"recording {name}: {states}")
        elif not name and done:
            found.doubled.append(f"{done} that must be held were delivered")
    ledger = _ledger(place)
    for number in sorted({file.who.number for file in dropped if file.who.registered}):
        _in_the_record(number, delivered[number], ledger, record, found)
    return found


def _by_recording(dropped: Sequence[File], store: Store, found: Reckoning) -> dict[str, tuple[str, list[Story]]]:
    """Stories of the different files of each recording; "" gathers the files that can never be filed."""
    groups: dict[str, tuple[str, list[Story]]] = {}
    seen = set[str]()
    for file in dropped:
        digest = sha256(file.content).hexdigest()
        if digest in seen:
            found.repeated += 1
            continue
        seen.add(digest)
        try:
            story = store.story(opaque_id(store.key, "recording", digest))
        except StoreError:
            found.lost.append(f"{file.name}: its bytes are in no store")
            continue
        groups.setdefault(file.recording, (file.who.number if file.recording else "", []))[1].append(story)
    return groups


def _ledger(place: Place) -> Counter[tuple[str, str]]:
    """What the gateway believes to have filed: type and the server's id."""
    kinds = ", ".join(f"'{kind}'" for kind in KINDS)
    rows = place.ask(f"SELECT resource_type, server_id FROM filed WHERE resource_type IN ({kinds})")
    return Counter((str(kind), str(server_id)) for kind, server_id in rows)


def _in_the_record(
    number: str, recordings: int, ledger: Counter[tuple[str, str]], record: RecordServer, found: Reckoning
) -> None:
    (patient,) = record.search("Patient", identifier=f"{NHS}|{number}")
    held = {kind: record.search(kind, subject=f"Patient/{patient['id']}") for kind in KINDS}
    every = [resource for kind in KINDS for resource in held[kind]]
    found.resources += len(every)
    found.rewritten += sum(int(resource["meta"]["versionId"]) - 1 for resource in every)
    reports = held["DiagnosticReport"]
    if len(reports) < recordings:
        found.lost.append(f"…{number[-4:]}: {len(reports)} reports of {recordings}")
    if len(reports) > recordings:
        found.doubled.append(f"…{number[-4:]}: {len(reports)} reports of {recordings}")
    twice = [value for value, count in Counter(map(_own, every)).items() if count > 1]
    if twice:
        found.doubled.append(f"…{number[-4:]}: {len(twice)} resources stand there twice")
    strangers = [each for each in every if (each["resourceType"], each["id"]) not in ledger]
    if strangers:
        found.doubled.append(f"…{number[-4:]}: {len(strangers)} resources that the ledger does not know")
    missing = {reference for each in every for reference in _links(each)} - {
        f"{each['resourceType']}/{each['id']}" for each in every
    }
    if missing:
        found.lost.append(f"…{number[-4:]}: {len(missing)} results that others point to are missing")
    if len(held["Observation"]) < LEAST_OBSERVATIONS * recordings:
        found.lost.append(f"…{number[-4:]}: only {len(held['Observation'])} observations")


def _own(resource: dict[str, Any]) -> str:
    return str(resource["identifier"][0]["value"])


def _links(resource: dict[str, Any]) -> list[str]:
    """Results and members, as TYPE/id."""
    links = [*resource.get("result", []), *resource.get("hasMember", []), *resource.get("derivedFrom", [])]
    return ["/".join(link["reference"].split("/")[-2:]) for link in links]

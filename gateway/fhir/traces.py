"""What an audit repository is told of our talk with a record server: FHIR R4 AuditEvents after IHE BALP.

Source: IHE ITI, Basic Audit Log Patterns 1.1.4, profiles Create, PatientCreate, Update, PatientUpdate, Query and
PatientQuery. They describe success, so a failure follows the same pattern without claiming them, and brings an
OperationOutcome. The person is named only as the record's own Patient; numbers, names and values never stand here,
so the query that BALP asks for is given without the number that was asked for.
"""

from base64 import b64encode
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from urllib.parse import quote

from gateway.fhir.content import written
from gateway.fhir.elements import Element, coding_of, filled, moment
from gateway.fhir.identity import SYSTEM, Identity, trace_key
from gateway.fhir.narrative import narrative
from gateway.mapping.codes import Codes
from gateway.model import Filed

BALP = "https://profiles.ihe.net/ITI/BALP/StructureDefinition/IHE.BasicAudit."
REPORTS = frozenset({"DiagnosticReport", "DocumentReference"})
NAME = "Ambulatory blood pressure gateway"


class Interaction(StrEnum):
    """What was asked of the record server."""

    CREATE = "create"
    UPDATE = "update"
    QUERY = "search-type"


ACTIONS = {Interaction.CREATE: "C", Interaction.UPDATE: "U", Interaction.QUERY: "E"}
PROFILES = {Interaction.CREATE: "Create", Interaction.UPDATE: "Update", Interaction.QUERY: "Query"}


class Failure(StrEnum):
    """How it failed, as R4's audit-event-outcome counts it."""

    REFUSED = "4"
    NOT_NOW = "8"


@dataclass(frozen=True, slots=True, kw_only=True)
class Talkers:
    """Who talks with whom: `base` is the address of the record, `host` the name of this machine."""

    codes: Codes
    store_key: bytes
    base: str
    host: str


def stored(talkers: Talkers, filed: Filed, interaction: Interaction, patient: str | None, at: datetime) -> Element:
    """One resource was created or updated. `patient`: the record's own reference ("Patient/123"), None for none."""
    where = f"{filed.resource_type}/{filed.server_id}" + (f"/_history/{filed.version}" if filed.version else "")
    role = "3" if filed.resource_type in REPORTS else "4"
    entities = [{**_entity(talkers, "2", role), "what": {"reference": f"{talkers.base}/{where}"}}]
    of_nobody = filed.resource_type == "Device"
    if patient and not of_nobody:
        entities.append(_patient(talkers, patient))
    known = f"Patient{PROFILES[interaction]}" if patient else ""
    return _event(
        talkers,
        interaction,
        at,
        mark=trace_key(talkers.store_key, talkers.base, interaction, where, filed.content_hash),
        profile=PROFILES[interaction] if of_nobody else known,
        said=f"{filed.resource_type} {interaction}d in the record",
        entities=entities,
    )


def looked_up(talkers: Talkers, system: str, patient: str | None, at: datetime) -> Element:
    """The record was asked who has a number of `system`; `patient` None: nobody who could be taken for the person."""
    entities = [_query(talkers, system), *([_patient(talkers, patient)] if patient else [])]
    return _event(
        talkers,
        Interaction.QUERY,
        at,
        mark=trace_key(talkers.store_key, talkers.base, "query", system, patient or "-", at.isoformat()),
        profile="PatientQuery" if patient else "Query",
        said="Person looked up in the record by number",
        entities=entities,
    )


def failed(
    talkers: Talkers,
    interaction: Interaction,
    about: tuple[str, str],
    patient: str | None,
    failure: Failure,
    code: str,
    at: datetime,
) -> Element:
    """What was asked was not done. `about`: recording's opaque number, identifier system that was asked by;
    `code` says why, in our own closed lists.
    """
    recording, system = about
    asked = interaction is Interaction.QUERY
    what = {"identifier": {"value": recording}, "display": "Recording, by the gateway's own number"}
    about_it = _query(talkers, system) if asked else {**_entity(talkers, "2", "4"), "what": what}
    event = _event(
        talkers,
        interaction,
        at,
        mark=trace_key(talkers.store_key, talkers.base, interaction, recording, failure, code, at.isoformat()),
        profile="",
        said=f"Not done: {interaction} ({code})",
        entities=[
            about_it,
            *([_patient(talkers, patient)] if patient else []),
            {"type": coding_of(talkers.codes.coding("audit-entity:4")), "what": {"reference": "#outcome"}},
        ],
    )
    issue = {
        "severity": "error",
        "code": "transient" if failure is Failure.NOT_NOW else "processing",
        "details": {"text": code},
    }
    outcome = {"resourceType": "OperationOutcome", "id": "outcome", "issue": [issue]}
    return {**event, "contained": [outcome], "outcome": failure.value, "outcomeDesc": code}


def batch(events: Sequence[Mapping[str, object]]) -> bytes:
    """One bundle for the repository; the tag lets it see what it was told before."""
    entries = []
    for event in events:
        meta = event["meta"]
        assert isinstance(meta, dict)  # noqa: S101  (made here)
        code = meta["tag"][0]["code"]
        request = {"method": "POST", "url": "AuditEvent", "ifNoneExist": "_tag=" + quote(f"{SYSTEM}|{code}", safe="")}
        entries.append({"fullUrl": code, "resource": event, "request": request})
    return written({"resourceType": "Bundle", "type": "batch", "entry": entries})


def _event(
    talkers: Talkers,
    interaction: Interaction,
    at: datetime,
    *,
    mark: str,
    profile: str,
    said: str,
    entities: list[Element],
) -> Element:
    coding = talkers.codes.coding
    own = Identity(talkers.store_key, "").device("gateway", "gateway")
    ourselves = {"type": "Device", "identifier": {"system": SYSTEM, "value": f"urn:uuid:{own}"}, "display": NAME}
    return filled(
        resourceType="AuditEvent",
        meta=filled(
            profile=[BALP + profile] if profile else None,
            tag=[{"system": SYSTEM, "code": f"urn:uuid:{mark}"}],
        ),
        text=narrative(said),
        type=coding_of(coding("audit-event:rest")),
        subtype=[coding_of(coding(f"interaction:{interaction.value}"))],
        action=ACTIONS[interaction],
        recorded=moment(at),
        outcome="0",
        agent=[
            _agent(talkers, "110153", ourselves, {"address": talkers.host, "type": "1"}, asks=True),
            _agent(
                talkers,
                "110152",
                {"display": "Record server"},
                {"address": talkers.base, "type": "5"},
                asks=False,
            ),
        ],
        source={"observer": ourselves, "type": [coding_of(coding("audit-source:4"))]},
        entity=entities,
    )


def _agent(talkers: Talkers, role: str, who: Element, network: Element, *, asks: bool) -> Element:
    code = coding_of(talkers.codes.coding(f"dicom:{role}"))
    return {
        "type": {"coding": [code], "text": code["display"]},
        "who": who,
        "requestor": asks,
        "network": network,
    }


def _entity(talkers: Talkers, kind: str, role: str) -> Element:
    coding = talkers.codes.coding
    return {"type": coding_of(coding(f"audit-entity:{kind}")), "role": coding_of(coding(f"object-role:{role}"))}


def _patient(talkers: Talkers, patient: str) -> Element:
    return {**_entity(talkers, "1", "1"), "what": {"reference": f"{talkers.base}/{patient}", "type": "Patient"}}


def _query(talkers: Talkers, system: str) -> Element:
    asked = f"Patient?identifier={system}|"
    return {**_entity(talkers, "2", "24"), "query": b64encode(asked.encode()).decode()}

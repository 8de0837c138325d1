"""What `bp-gateway check` asks a record server: can it be reached, does it let us in, can it take results safely?"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from gateway import fhir
from gateway.deliver.certificates import of_ours, of_server
from gateway.deliver.sending import Bundles
from gateway.deliver.skew import skew_words
from gateway.deliver.stopped import Stopped
from gateway.deliver.talk import Talk
from gateway.deliver.wire import Request
from gateway.model import ReadingsChoice, Rejected, ReportChoice, TryLater, Way
from gateway.settings.destination import Destination

HARMLESS = "urn:uuid:00000000-0000-4000-8000-000000000000"
"""An identifier that nobody has."""
READINGS = {
    ReadingsChoice.VALID: "every usable single reading is filed; a record that shows the latest pressure may show "
    "a reading taken asleep or on the stairs",
    ReadingsChoice.ALL: "every single reading is filed, failed and excluded ones marked as such",
    ReadingsChoice.NONE: "only averages and the report are filed, no single reading",
}

BUNDLES = {
    Bundles.TRANSACTION: "whole parts in one transaction",
    Bundles.BATCH: "no transactions: batches, in which no entry needs another",
    Bundles.NONE: "no transactions: one resource at a time",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """One thing that was looked at. `said`: what was found, and what to mend when it is not `good`."""

    what: str
    good: bool
    said: str
    unreachable: bool = False


def server_checks(destination: Destination, talk: Talk) -> Iterator[Checked]:
    """Reachability with TLS, credentials, abilities, one search that finds nobody. Stops at the first dead end."""
    name = destination.name
    yield Checked(what=f"{name}: readings", good=True, said=READINGS[destination.readings])
    statement = _statement(name, talk)
    yield statement[0]
    yield from _certificates(destination, talk)
    if statement[1] is None:
        return
    yield from _abilities(destination, statement[1])
    yield _let_in(name, talk)
    yield _searched(destination, talk)


def _statement(name: str, talk: Talk) -> tuple[Checked, fhir.Capabilities | None]:
    what = f"{name}: reached"
    try:
        # without credentials: every FHIR server shows its CapabilityStatement to anybody
        reply = talk.open_to_all(Request(method="GET", address=f"{talk.base}/metadata"))
    except Stopped as stopped:
        return not_good(what, stopped), None
    found = fhir.capabilities(reply.body)
    if found is None:
        said = "this is no FHIR server (no CapabilityStatement at /metadata); look at url"
        return Checked(what=what, good=False, said=said), None
    if words := skew_words(reply.headers.get("date"), datetime.now(UTC)):
        return Checked(what=f"{name}: clock", good=False, said=f"{words}; set it right (NTP)"), found
    return Checked(what=what, good=True, said=f"{found.software or 'a FHIR server'} answers at {talk.base}"), found


def _certificates(destination: Destination, talk: Talk) -> Iterator[Checked]:
    now = datetime.now(UTC)
    for each in (*of_ours(destination), *of_server(talk.wire.chain)):
        said = each.said(now) + ("; renew it" if each.ageing(now) else "")
        yield Checked(what=f"{destination.name}: certificate", good=not each.ageing(now), said=said)


def _abilities(destination: Destination, capabilities: fhir.Capabilities) -> Iterator[Checked]:
    name = destination.name
    yield Checked(
        what=f"{name}: version",
        good=capabilities.speaks_r4,
        said=f"FHIR {capabilities.fhir_version or 'unknown'}"
        + ("" if capabilities.speaks_r4 else "; needed is 4.0 (R4), ask for the R4 address of this server"),
    )
    types = types_filed(destination)
    way = way_for(capabilities, types)
    said = {
        None: "no safe way of writing: the server must declare updateCreate, conditionalCreate or the search "
        f"parameter identifier for {', '.join(sorted(types))}; and _tag or target for Provenance"
        + ("; for Binary only updateCreate is safe, so else leave report_binary out" if "Binary" in types else ""),
        Way.PUT: "writes under our own ids (updateCreate)",
        Way.CONDITIONAL: "writes with conditional create",
        Way.SEARCH_FIRST: "searches first, then writes what is missing",
    }[way]
    yield Checked(what=f"{name}: way of writing", good=way is not None, said=said)
    yield Checked(what=f"{name}: transactions", good=True, said=BUNDLES[bundles_for(capabilities)])
    lacking = ", ".join(_lacking(capabilities, types)) or "nothing that is made use of"
    yield Checked(what=f"{name}: does not declare", good=True, said=lacking)
    said = f"at most {destination.most_entries} entries and {destination.most_bytes} bytes at once, by the settings"
    yield Checked(what=f"{name}: limits", good=True, said=f"{said}; a server does not say its own")


def _lacking(capabilities: fhir.Capabilities, types: frozenset[str]) -> Iterator[str]:
    """What would make writing safer or quicker; without it another way is gone."""
    declared = {"updateCreate": capabilities.update_create, "conditionalCreate": capabilities.conditional_create}
    for what, kinds in declared.items():
        if missing := sorted(types - kinds):
            yield f"{what} for {', '.join(missing)}"
    if not capabilities.transaction:
        yield "transaction"
    for kind in sorted(types | {"Patient"}):
        parameter = "target" if kind == "Provenance" else "identifier"
        if parameter not in capabilities.searches.get(kind, frozenset()):
            yield f"search of {kind} by {parameter}"


def _let_in(name: str, talk: Talk) -> Checked:
    what = f"{name}: credentials"
    try:
        header = talk.credentials.header(talk.deadline)
    except Stopped as stopped:
        return not_good(what, stopped)
    if talk.credentials.remark:
        return Checked(what=what, good=False, said=talk.credentials.remark)
    said = "they are there" if header else "none needed but our certificate, or on this machine none at all"
    return Checked(what=what, good=True, said=said)


def _searched(destination: Destination, talk: Talk) -> Checked:
    what = f"{destination.name}: search for a person"
    system = next(iter(destination.identifier_systems.values()), fhir.SYSTEM)
    try:
        found = talk.search(fhir.Search("Patient", (("identifier", f"{system}|{HARMLESS}"),)))
    except Stopped as stopped:
        return not_good(what, stopped)
    if found:
        return Checked(
            what=what, good=False, said="it finds somebody for a number that nobody has; nothing can be filed"
        )
    return Checked(what=what, good=True, said="answers, and finds nobody for a number that nobody has")


def not_good(what: str, stopped: Stopped) -> Checked:
    """Why it could not be looked at."""
    answer = stopped.answer
    if isinstance(answer, Rejected):
        return Checked(what=what, good=False, said=answer.answer or answer.hold.sentence)
    assert isinstance(answer, TryLater)  # noqa: S101  (the only other answer)
    return Checked(what=what, good=False, said=answer.why, unreachable=answer.unreachable)


def way_for(capabilities: fhir.Capabilities, types: frozenset[str]) -> Way | None:
    """The safest declared way; without transactions the same ways are gone one resource at a time."""
    return fhir.best_way(replace(capabilities, transaction=True), types)


def bundles_for(capabilities: fhir.Capabilities) -> Bundles:
    """The largest kind of request that the server declares."""
    if capabilities.transaction:
        return Bundles.TRANSACTION
    return Bundles.BATCH if capabilities.batch else Bundles.NONE


def types_filed(destination: Destination) -> frozenset[str]:
    """Resource types that this destination gets."""
    types = {"Device", "Observation", "DiagnosticReport", "Provenance"}
    if destination.report is ReportChoice.DOCUMENT_REFERENCE:
        types.add("DocumentReference")
    if destination.report_binary and destination.report is not ReportChoice.NONE:
        types.add("Binary")
    return frozenset(types)

"""The monitor and the gateway as Devices: shared by all recordings, so they name no person and no recording."""

from collections.abc import Iterator, Sequence

from gateway.fhir.content import Rank, Resource
from gateway.fhir.elements import Element, Scope, concept, filled, gateway_id, monitor_id, notes, plain
from gateway.fhir.identity import SYSTEM
from gateway.fhir.narrative import narrative, paragraphs
from gateway.mapping.monitors import MONITOR_FINDINGS


def devices(scope: Scope) -> Iterator[Resource]:
    """The gateway, and the monitor when its serial number is known."""
    yield Resource(Rank.DEVICE, _gateway(scope))
    if scope.recording.monitor.serial:
        yield Resource(Rank.DEVICE, _monitor(scope, scope.recording.monitor.serial))


def _monitor(scope: Scope, serial: str) -> Element:
    model = plain(scope.recording.monitor.model)
    number = plain(serial) or "not readable"
    said = _warnings(scope)
    return _device(
        scope,
        monitor_id(scope),
        "monitor",
        f"{model or 'Ambulatory blood pressure monitor'}, serial number {number}",
        serialNumber=number,
        said=said,
        deviceName=[{"name": model, "type": "model-name"}] if model else None,
        property=_calibration(scope),
        location={"display": place} if (place := plain(scope.recording.monitor.location)) else None,
        note=notes(*said),
    )


def _warnings(scope: Scope) -> list[str]:
    """What was found about the monitor itself: it is no sound one, or not where it belongs."""
    return [str(found.sentence) for found in scope.summary.findings if found.rule in MONITOR_FINDINGS]


def _calibration(scope: Scope) -> list[Element]:
    due = scope.recording.monitor.calibration_due
    return [{"type": {"text": "Calibration due"}, "valueCode": [{"text": due.isoformat()}]}] if due else []


def _gateway(scope: Scope) -> Element:
    name = "Ambulatory blood pressure gateway"
    return _device(
        scope,
        gateway_id(scope),
        "gateway",
        f"{name}, version {scope.software}",
        deviceName=[{"name": name, "type": "user-friendly-name"}],
        version=[{"value": scope.software}],
    )


def _device(scope: Scope, device_id: str, kind: str, title: str, said: Sequence[str] = (), **more: object) -> Element:
    return filled(
        resourceType="Device",
        id=device_id,
        text=narrative(title, paragraphs(said)),
        identifier=[{"system": SYSTEM, "value": f"urn:uuid:{device_id}"}],
        status="active",
        type=concept(scope, kind),
        **more,
    )

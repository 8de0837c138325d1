"""The monitor and the gateway as Devices: shared by all recordings, so they name no person and no recording."""

from collections.abc import Iterator

from gateway.fhir.content import Rank, Resource
from gateway.fhir.elements import Element, Scope, concept, filled, gateway_id, monitor_id, plain
from gateway.fhir.identity import SYSTEM
from gateway.fhir.narrative import narrative


def devices(scope: Scope) -> Iterator[Resource]:
    """The gateway, and the monitor when its serial number is known."""
    yield Resource(Rank.DEVICE, _gateway(scope))
    if scope.recording.monitor.serial:
        yield Resource(Rank.DEVICE, _monitor(scope, scope.recording.monitor.serial))


def _monitor(scope: Scope, serial: str) -> Element:
    model = plain(scope.recording.monitor.model)
    number = plain(serial) or "not readable"
    return _device(
        scope,
        monitor_id(scope),
        "monitor",
        f"{model or 'Ambulatory blood pressure monitor'}, serial number {number}",
        serialNumber=number,
        deviceName=[{"name": model, "type": "model-name"}] if model else None,
    )


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


def _device(scope: Scope, device_id: str, kind: str, title: str, **more: object) -> Element:
    return filled(
        resourceType="Device",
        id=device_id,
        text=narrative(title),
        identifier=[{"system": SYSTEM, "value": f"urn:uuid:{device_id}"}],
        status="active",
        type=concept(scope, kind),
        **more,
    )

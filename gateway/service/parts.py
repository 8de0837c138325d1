"""Settings and mappings -> the parts of the running gateway."""

from collections.abc import Mapping
from datetime import timedelta
from importlib.metadata import version
from typing import Any
from zoneinfo import ZoneInfo

from gateway import fhir
from gateway.deliver import Folder, Recipient, Server
from gateway.deliver.circuit import CircuitRule
from gateway.intake import Route, Tools
from gateway.mapping.codes import Codes
from gateway.pacing import Pace
from gateway.report import Letterhead, Paper
from gateway.settings import Settings, rules, site_defaults
from gateway.settings.destination import Destination
from gateway.settings.handing import FolderDestination
from gateway.settings.maps import Mappings


def software() -> str:
    """Name and version, as they stand on the report and in the record."""
    return f"bp-gateway {version('ambulatory-bp-gateway')}"


def tools_from(settings: Settings, mappings: Mappings) -> Tools:
    """Everything that decides how a file is understood. Raises SettingsError for a name that no file has."""
    return Tools(
        sources=tuple(mappings.sources.values()),
        defaults=site_defaults(settings),
        rules=rules(settings, mappings),
        codes=mappings.codes,
        routes=tuple(
            Route(
                filing=destination.filing(settings.site.organization),
                profile=mappings.profiles[destination.profile],
                only=destination.takes(settings.site.name),
            )
            for destination in settings.destinations
        ),
        letterhead=letterhead(settings),
        software=software(),
        language=mappings.languages[settings.site.language],
        sign_off_first=settings.site.sign_off_first,
        companion=settings.companion.use,
        companion_bytes=settings.companion.most_bytes,
    )


def paces_from(settings: Settings) -> dict[str, Pace]:
    """How fast and when each destination wants its deliveries, by its name."""
    zone = ZoneInfo(settings.site.timezone or "UTC")
    return {
        destination.name: Pace(
            zone=zone,
            per_minute=destination.pace.per_minute,
            at_once=destination.pace.at_once,
            hours=destination.pace.spans(),
            circuit=CircuitRule(
                opens_after=destination.circuit.opens_after,
                pause=timedelta(seconds=destination.circuit.pause),
                longest=timedelta(seconds=destination.circuit.longest_pause),
            ),
        )
        for destination in settings.destinations
    }


def letterhead(settings: Settings) -> Letterhead:
    """What the report says about who made it."""
    return Letterhead(
        organisation=settings.site.organization,
        software=software(),
        paper=Paper.LETTER if settings.site.paper == "letter" else Paper.A4,
        language=settings.site.language,
        kpa=settings.site.kpa,
        readings=settings.site.report_readings,
    )


def servers_from(settings: Settings, codes: Codes) -> dict[str, Recipient]:
    """One writer per destination, by its name. Each bundle is checked once more just before it is sent."""

    def faults(bundle: Mapping[str, Any]) -> tuple[str, ...]:
        return fhir.check_bundle(bundle, codes)

    def recipient(destination: Destination | FolderDestination) -> Recipient:
        if isinstance(destination, FolderDestination):
            return Folder(destination, faults)
        return Server(destination, software=software(), faults=faults)

    return {destination.name: recipient(destination) for destination in settings.destinations}

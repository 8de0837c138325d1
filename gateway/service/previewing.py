"""A preview needs neither settings nor a server: what it assumes where nothing was configured."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from gateway import fhir
from gateway.enclosing import enclosed
from gateway.errors import SettingsError
from gateway.intake import Considered, Route, Tools, key_of, make, parcel_for, where_to
from gateway.mapping.guideline import Guideline
from gateway.mapping.site import SiteDefaults
from gateway.model import CompanionUse, Filing
from gateway.report import Letterhead
from gateway.service.parts import software, tools_from
from gateway.service.pdfs import companion_at, lying_beside
from gateway.settings import Settings, load, rules
from gateway.settings.maps import Mappings
from gateway.settings.maps import load as load_mappings

PREVIEW_KEY = b"a preview keeps nothing: its ids are not those of the service"
PERFORMER = "your organization (from the settings)"


def preview_tools(
    config: Path | None, environ: Mapping[str, str], *, timezone: str | None, guideline: str | None
) -> Tools:
    """Tools for a preview, from settings where there are any. Raises SettingsError or MappingError."""
    named = config or (Path(value) if (value := environ.get("BP_GATEWAY_CONFIG")) else None)
    if named is None:
        mappings = load_mappings(None)
        tools = _without_settings(mappings)
    else:
        settings = load(named, environ)
        mappings = load_mappings(settings.mappings.folder)
        tools = tools_from(settings, mappings)
        if not tools.routes:
            tools = replace(tools, routes=_any_route(mappings))
    if guideline is not None:
        tools = replace(tools, rules=replace(tools.rules, guideline=_guideline(mappings, guideline), others=()))
    if timezone is not None:
        tools = replace(tools, defaults=replace(tools.defaults, zone=_zone(timezone), zone_assumed=False))
    return tools


def with_companion(considered: Considered, file: Path, named: Path | None, tools: Tools) -> Considered:
    """With the PDF that was named, or that lies beside the file where the settings want it. Raises SettingsError."""
    path = named or lying_beside(file, tools)
    if path is None:
        return considered
    if tools.companion is CompanionUse.IGNORE:
        tools = replace(tools, companion=CompanionUse.BESIDE)
    try:
        return enclosed(considered, companion_at(path, tools), tools)
    except OSError as error:
        raise SettingsError([f"--companion {path}: cannot be opened ({error.strerror})"]) from None


def bundle_bytes(considered: Considered, tools: Tools, now: datetime, destination: str | None = None) -> bytes:
    """The destination-neutral bundle for this destination, or the first that gets it.

    Raises ContentFault, SettingsError for a destination that does not get this recording.
    """
    routes = {route.filing.destination: route for route, kept_back in where_to(considered, tools) if not kept_back}
    if destination is not None and destination not in routes:
        raise SettingsError([f"--destination {destination}: this recording goes to {', '.join(routes)}"])
    made = make(considered, tools, now)
    identity = fhir.Identity(PREVIEW_KEY, key_of(made.recording, PREVIEW_KEY, issue=0))
    parcel = parcel_for(routes[destination or next(iter(routes))], made, identity, tools, now)
    return fhir.written(fhir.bundle(parcel.resources), indent=True)


def _without_settings(mappings: Mappings) -> Tools:
    defaults = rules(Settings(), mappings)
    # there is no inbox here in which an old file could lie by mistake; the finding still says that it is old
    unsettled = replace(defaults, time=replace(defaults.time, hold_historical=False))
    return Tools(
        sources=tuple(mappings.sources.values()),
        defaults=SiteDefaults(zone="UTC", zone_assumed=True),
        rules=unsettled,
        codes=mappings.codes,
        routes=_any_route(mappings),
        letterhead=Letterhead(organisation=PERFORMER, software=software()),
        software=software(),
    )


def _any_route(mappings: Mappings) -> tuple[Route, ...]:
    filing = Filing(destination="preview", performer=PERFORMER)
    return (Route(filing=filing, profile=mappings.profiles[filing.profile]),)


def _guideline(mappings: Mappings, name: str) -> Guideline:
    try:
        return mappings.guidelines[name]
    except KeyError:
        raise SettingsError([f"--guideline {name}: known are {', '.join(sorted(mappings.guidelines))}"]) from None


def _zone(name: str) -> str:
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError):
        raise SettingsError([f"--timezone {name}: no such zone; write an IANA name such as Europe/London"]) from None
    return name

"""One gateway with a folder as destination: the bundle in it is what a record would get, and no server is needed."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from gateway.service.opening import opened
from gateway.service.storing import opened_store
from gateway.settings import load
from gateway.settings.maps import load as load_mappings
from gateway.store import Story
from tests.flow.day import FOLDERS, SITE, Day

SETTINGS = (
    SITE
    + FOLDERS
    + """
[bounds]
hold_historical = false

[watch]
quiet = {quiet}
sweep_every = {sweep}
use_events = {events}

[companion]
use = "{use}"
wait = {wait}

[[destinations]]
name = "region"
folder = "{place}/out"
readings = "valid"
"""
)


@dataclass(frozen=True)
class Site(Day):
    """One gateway with its folders, driven in this process, or by the real commands."""

    def once(self) -> None:
        """One pass over the inbox."""
        settings = load(self.config, {})
        with opened(settings, load_mappings(None)) as service:
            service.once((), lambda *_: None)

    def stories(self) -> list[Story]:
        with opened_store(load(self.config, {})) as store:
            ids = {entry.recording for entry in store.audit_entries() if entry.recording}
            return [store.story(each) for each in sorted(ids)]

    def bundle(self) -> dict[str, Any]:
        (file,) = (self.place / "out").glob("*.json")
        found: dict[str, Any] = json.loads(file.read_text())
        return found

    def forms(self) -> list[dict[str, Any]]:
        (report,) = (
            entry["resource"]
            for entry in self.bundle()["entry"]
            if entry["resource"]["resourceType"] == "DiagnosticReport"
        )
        return list(report["presentedForm"])

    def lying(self, folder: str) -> list[str]:
        """Endings of what lies there, notes left out."""
        names = [each.name for each in (self.place / folder).iterdir()]
        return sorted(Path(name).suffix for name in names if not name.endswith(".why.txt") and name[0] != ".")


def a_site(
    place: Path,
    use: str = "ignore",
    wait: float = 1.0,
    quiet: float = 0.3,
    sweep: float = 30.0,
    events: bool = True,
) -> Site:
    for name in ("inbox", "out"):
        (place / name).mkdir(parents=True)
    config = place / "gateway.toml"
    told = str(events).lower()
    config.write_text(
        SETTINGS.format(guideline="esc-2024", place=place, use=use, wait=wait, quiet=quiet, sweep=sweep, events=told)
    )
    return Site(place, config)

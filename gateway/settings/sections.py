"""The settings file, section by section: frozen, no unknown keys, each key with its meaning."""

from pathlib import Path
from typing import Annotated, Literal, Self
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import AfterValidator, Discriminator, Field, PositiveFloat, PositiveInt, Tag, model_validator

from gateway.mapping.alerts import AlertRule
from gateway.mapping.guideline import FixedWindow
from gateway.mapping.parse import Declared
from gateway.model import CompanionUse
from gateway.settings.destination import Destination
from gateway.settings.handing import FolderDestination
from gateway.settings.monitors import Monitors
from gateway.settings.people import Identifiers, Repeats
from gateway.settings.repository import AuditRepository
from gateway.settings.reviewing import ReviewChoice as ReviewChoice
from gateway.settings.storage import NodeChoice, StoreChoice

STATE_ROOT = Path("/var/lib/bp-gateway")


def _known_zone(name: str) -> str:
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise ValueError('is not a time zone of the IANA list; write for example "Europe/London"') from None
    return name


Zone = Annotated[str, AfterValidator(_known_zone)]


class Site(Declared):
    """Who we are and how recordings are judged here."""

    name: str = ""
    organization: str = ""
    """the organization that answers for the results (FHIR performer)"""
    timezone: Zone | None = None
    identifier_system: str | None = None
    """what kind of number an export means when it does not say (URI)"""
    production: bool = False
    """real people: test numbers are refused, and the safety choices below must have been made"""
    guideline: str | None = None
    limits: str = "widest"
    """which rule set of believable readings, an id of mappings/limits"""
    lowest_age: int | None = Field(default=None, ge=0, le=120)
    """raise, never lower, the guideline's lowest age"""
    other_guidelines: tuple[str, ...] = ()
    """ids for persons whom `guideline` is not meant for (children, pregnancy); the first that fits is used"""
    first_hour_apart: bool = False
    """readings of the first hour after fitting are shown apart and count in no average"""
    language: Literal["de", "en", "fr"] = "en"
    """of the report and of every sentence in the record; codes and logs stay English"""
    paper: Literal["a4", "letter"] = "a4"
    kpa: bool = False
    """the report shows kPa beside mmHg"""
    report_readings: bool = False
    """the report has a second page with every reading"""
    sign_off_first: bool = False
    """every result waits for a clinician's sign-off before it is filed"""


class Windows(Declared):
    """Fixed windows of the site for recordings whose sleep is not known; instead of the guideline's."""

    awake: FixedWindow
    asleep: FixedWindow


class Bounds(Declared):
    """Bounds on the times of a recording."""

    longest_hours: int = Field(default=52, ge=24, le=200)
    future_minutes: int = Field(default=10, ge=0, le=120)
    historical_days: int = Field(default=60, ge=1)
    hold_historical: bool = True
    break_hours: int = Field(default=8, ge=0, le=48)
    """so long without any attempt is a break; 0: no break is looked for"""
    hold_break: bool = True
    """a break in a recording that goes on hours past its plan holds it; false: it is only said"""


class Folders(Declared):
    """Where files lie. The inbox may be a network share; the state folder must be on a local disk."""

    inbox: Path = STATE_ROOT / "inbox"
    done: Path = STATE_ROOT / "done"
    held: Path = STATE_ROOT / "held"
    state: Path = STATE_ROOT / "state"

    @model_validator(mode="after")
    def _apart(self) -> Self:
        named = {"inbox": self.inbox, "done": self.done, "held": self.held, "state": self.state}
        if len(set(named.values())) != len(named):
            raise ValueError("inbox, done, held and state must be four different folders")
        for name, folder in named.items():
            if name != "inbox" and folder.is_relative_to(self.inbox):
                raise ValueError(f"{name} lies inside inbox; put it beside it, or its files would be taken in again")
        return self


class Watching(Declared):
    """How a file is recognised as finished."""

    quiet: PositiveFloat = 10.0
    """seconds without change, where the file system sends no events"""
    sweep_every: PositiveFloat = 30.0
    """seconds between two full listings of the inbox"""
    most_bytes: PositiveInt = 16 * 1024 * 1024
    use_events: bool = True


class Companions(Declared):
    """PDFs of the monitor's own software that lie in the inbox beside an export of the same stem."""

    use: CompanionUse = CompanionUse.IGNORE
    """filed `beside` our report or `instead` of it; `ignore`: it is a file like any other, which no map reads"""
    wait: PositiveFloat = 60.0
    """seconds that export and PDF may come apart; so long every export waits for one"""
    most_bytes: PositiveInt = 600_000
    """a larger PDF is not filed; a third more must fit into most_bytes of the destinations"""


class MappingsFolder(Declared):
    """A site's own maps, guidelines and limits, laid over those that are shipped."""

    folder: Path | None = None


class AuditChoice(Declared):
    """Where the signed heads of the audit log are kept a second time, and who else is told."""

    heads_file: Path | None = None
    """outside the state folder, best on another disk; without it the end of the log cannot be proved"""
    repository: AuditRepository | None = None
    """a FHIR server that keeps AuditEvents (IHE BALP) of what we ask and write; None: nobody is told"""


class Logging(Declared):
    """What the service writes about its work; never a name, a number or a value of a person."""

    form: Literal["json", "console"] = "json"
    level: Literal["debug", "info", "warning", "error"] = "info"


def _kind(written: object) -> str:
    """A destination with a folder is one; every other is a server, and is told what it lacks as such."""
    folder = "folder" in written if isinstance(written, dict) else isinstance(written, FolderDestination)
    return "of-folder" if folder else "of-server"


AnyDestination = Annotated[
    Annotated[Destination, Tag("of-server")] | Annotated[FolderDestination, Tag("of-folder")], Discriminator(_kind)
]


class Settings(Declared):
    """Everything IT wrote, checked. Secrets are `SecretStr` and never printed."""

    site: Site = Site()
    identifiers: Identifiers = Identifiers()
    repeats: Repeats = Repeats()
    monitors: Monitors = Monitors()
    review: ReviewChoice = ReviewChoice()
    alerts: tuple[AlertRule, ...] = ()
    windows: Windows | None = None
    bounds: Bounds = Bounds()
    folders: Folders = Folders()
    store: StoreChoice = StoreChoice()
    node: NodeChoice = NodeChoice()
    watch: Watching = Watching()
    companion: Companions = Companions()
    mappings: MappingsFolder = MappingsFolder()
    audit: AuditChoice = AuditChoice()
    log: Logging = Logging()
    destinations: tuple[AnyDestination, ...] = ()

    @model_validator(mode="after")
    def _names_once(self) -> Self:
        names = [destination.name for destination in self.destinations]
        if doubled := sorted({name for name in names if names.count(name) > 1}):
            raise ValueError(f"destinations: the name {doubled[0]!r} stands twice; give each destination its own")
        heads = self.audit.heads_file
        if heads is not None and heads.is_relative_to(self.folders.state):
            raise ValueError("audit.heads_file lies in the state folder; put it elsewhere, best on another disk")
        return self

"""From settings and mappings to the rules that the core works by, and what work needs before it may start."""

from collections.abc import Iterable, Iterator, Mapping
from datetime import timedelta
from decimal import Decimal
from difflib import get_close_matches
from typing import TYPE_CHECKING

from gateway.errors import SettingsError
from gateway.mapping.guideline import FixedWindows, Guideline, Standing
from gateway.mapping.monitors import MonitorRules, RegisteredMonitor, plain_words
from gateway.mapping.rules import PersonRules, RepeatRules, ReviewRule, Rules, TimeRules
from gateway.mapping.site import SiteDefaults
from gateway.settings.choices import Choices
from gateway.settings.sections import ReviewChoice, Settings

if TYPE_CHECKING:
    from gateway.settings.maps import Mappings

PREVIEW_GUIDELINE = "esc-2024"
"""used only while no site has chosen one, which work refuses"""

EXAMPLE = """\
[site]
name = "Example Surgery"
organization = "Example Surgery"
timezone = "Europe/London"
guideline = "nice-ng136"

[folders]
inbox = "/var/lib/bp-gateway/inbox"
done = "/var/lib/bp-gateway/done"
held = "/var/lib/bp-gateway/held"
state = "/var/lib/bp-gateway/state"

[[destinations]]
name = "record"
url = "https://fhir.example.org/R4"
readings = "valid"

[destinations.auth]
kind = "private-key-jwt"
client_id = "bp-gateway"
key_id = "bp-gateway-1"
key_file = "/etc/bp-gateway/record-key.pem"
"""


def ready_for_work(settings: Settings) -> None:
    """`run`, `once`, `check` and `status` call this. Raises SettingsError saying exactly what to write."""
    missing = list(_missing(settings))
    if settings == Settings():
        missing = ["There are no settings. Write a file like this, and name it with --config or $BP_GATEWAY_CONFIG:"]
        missing += ["", *EXAMPLE.splitlines(), "", "deploy/gateway.toml explains every key."]
    if missing:
        raise SettingsError(missing)


def _missing(settings: Settings) -> Iterator[str]:
    site = settings.site
    if not site.name:
        yield 'site.name: is missing; write the name of the place, for example name = "Example Surgery"'
    if not site.organization:
        yield "site.organization: is missing; write the name of the organization that answers for the results"
    if site.timezone is None:
        yield 'site.timezone: is missing; write the zone of the monitors, for example timezone = "Europe/London"'
    if site.guideline is None:
        yield "site.guideline: is missing; choose one that `bp-gateway guideline list` prints"
    if not settings.destinations:
        yield "destinations: there is none; describe a record server under a heading [[destinations]]"
    if site.production:
        yield from _missing_in_production(settings)


def _missing_in_production(settings: Settings) -> Iterator[str]:
    review = settings.review
    if not review.limits and not review.declined_by:
        yield (
            "review: production needs the local review rule, or a person who declined it; write name and for example "
            "systolic_at_or_above = 180, or declined_by and declined_why"
        )
    if settings.audit.heads_file is None:
        yield (
            "audit.heads_file: production needs a file outside the state folder for the signed heads of the audit "
            "log; without it a log whose end was cut off cannot be told from a whole one"
        )


def rules(settings: Settings, mappings: "Mappings") -> Rules:
    """Everything that decides how a recording is judged here. Raises SettingsError for ids that nobody described."""
    site, problems = settings.site, list[str]()
    guideline_id = site.guideline or PREVIEW_GUIDELINE
    problems += _unknown("site.guideline", guideline_id, mappings.guidelines)
    problems += _unknown("site.limits", site.limits, mappings.limits)
    for other in site.other_guidelines:
        problems += _unknown("site.other_guidelines", other, mappings.guidelines)
    for name in dict.fromkeys((guideline_id, *site.other_guidelines)):
        if name in mappings.guidelines:
            problems += _unfit(mappings.guidelines[name], settings, main=name == guideline_id)
    for destination in settings.destinations:
        problems += _unknown_at(destination, mappings)
    if problems:
        raise SettingsError(problems)
    return Rules(
        guideline=mappings.guidelines[guideline_id],
        limits=mappings.limits[site.limits],
        review=_review(settings.review),
        windows=_windows(settings),
        person=_person(settings),
        time=_time(settings),
        repeat=_repeat(settings),
        monitors=_monitors(settings),
        lowest_age=site.lowest_age,
        others=tuple(mappings.guidelines[name] for name in site.other_guidelines),
        alerts=settings.alerts,
        first_hour_apart=site.first_hour_apart,
    )


def site_defaults(settings: Settings) -> SiteDefaults:
    """What holds for a file that is silent about it."""
    return SiteDefaults(
        zone=settings.site.timezone,
        identifier_system=settings.site.identifier_system,
        most_bytes=settings.watch.most_bytes,
    )


def _unknown_at(destination: Choices, mappings: "Mappings") -> Iterator[str]:
    key, only = f"destinations.{destination.name}", destination.only
    yield from _unknown(f"{key}.profile", destination.profile, mappings.profiles)
    for layout in only.layouts:
        yield from _unknown(f"{key}.only.layouts", layout, mappings.sources)
    for guideline in only.guidelines:
        yield from _unknown(f"{key}.only.guidelines", guideline, mappings.guidelines)


def _unknown(key: str, name: str, known: Mapping[str, object]) -> Iterator[str]:
    if name not in known:
        yield f"{key}: there is no '{name}'{nearest(name, known)}"


def nearest(name: str, known: Iterable[str]) -> str:
    """The end of a sentence about an unknown name: the one that was probably meant, or all there are."""
    names = sorted(known)
    close = get_close_matches(name, names, n=1)
    return f"; did you mean '{close[0]}'?" if close else f"; there are: {', '.join(names) or 'none'}"


def _unfit(guideline: Guideline, settings: Settings, main: bool) -> Iterator[str]:
    lowest = settings.site.lowest_age
    if main and lowest is not None and lowest < guideline.lowest_age:
        yield f"site.lowest_age: {guideline.id} begins at {guideline.lowest_age}; it may only be raised"
    if settings.site.production and guideline.needs_approval:
        key = "guideline" if main else "other_guidelines"
        yield (
            f"site.{key}: the deciding numbers of {guideline.id} are not all verified "
            f"({', '.join(guideline.unverified)}); compare them with the guideline itself, then put a copy of the "
            "file with approved_by, approved_on and approved_source into the folder guidelines of mappings.folder"
        )


def _review(choice: ReviewChoice) -> ReviewRule | None:
    if not choice.limits:
        return None
    limits = {name: Decimal(value) for name, value in choice.limits.items()}
    return ReviewRule(name=choice.name, readings=choice.readings, **limits)


def _windows(settings: Settings) -> FixedWindows | None:
    if settings.windows is None:
        return None
    return FixedWindows(
        citation=f"settings of {settings.site.name or 'this site'}",
        standing=Standing.VERIFIED,
        awake=settings.windows.awake,
        asleep=settings.windows.asleep,
    )


def default_person_rules() -> PersonRules:
    """How a person's number is checked where nothing was set."""
    return _person(Settings())


def _person(settings: Settings) -> PersonRules:
    return PersonRules(
        systems=dict(settings.identifiers.systems),
        test_numbers=dict(settings.identifiers.test_numbers),
        production=settings.site.production,
        birth_date_needed=settings.identifiers.birth_date_needed,
    )


def _time(settings: Settings) -> TimeRules:
    bounds = settings.bounds
    return TimeRules(
        longest=timedelta(hours=bounds.longest_hours),
        future_slack=timedelta(minutes=bounds.future_minutes),
        historical_after=timedelta(days=bounds.historical_days),
        hold_historical=bounds.hold_historical,
        longest_break=timedelta(hours=bounds.break_hours) if bounds.break_hours else None,
        hold_break=bounds.hold_break,
    )


def _repeat(settings: Settings) -> RepeatRules:
    repeats = settings.repeats
    within = timedelta(days=repeats.within_days) if repeats.within_days else None
    return RepeatRules(within=within, same_monitor=repeats.same_monitor)


def _monitors(settings: Settings) -> MonitorRules:
    chosen = settings.monitors
    return MonitorRules(
        register={plain_words(each.serial): RegisteredMonitor(**each.model_dump()) for each in chosen.known},
        unknown=chosen.unknown,
        overdue=chosen.overdue,
        elsewhere=chosen.elsewhere,
        home=settings.site.name,
    )

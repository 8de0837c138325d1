"""From settings and mappings to the rules of the core."""

from datetime import time, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from gateway.errors import SettingsError
from gateway.settings import EXAMPLE, Settings, default_person_rules, load, rules, site_defaults
from gateway.settings.maps import load as load_mappings

MAPPINGS = load_mappings(None)


def settings_with(tmp_path: Path, more: str = "", **environ: str) -> Settings:
    path = tmp_path / "gateway.toml"
    path.write_text(f"{EXAMPLE}\n{more}")
    return load(path, {f"BP_GATEWAY__{key}": value for key, value in environ.items()})


def test_the_chosen_guideline_and_limits_are_used(tmp_path: Path) -> None:
    chosen = rules(settings_with(tmp_path), MAPPINGS)
    assert (chosen.guideline.id, chosen.limits.id) == ("nice-ng136", "widest")
    assert chosen.review is None and chosen.windows is None and chosen.lowest_age is None


def test_unknown_ids_are_told_together_with_the_nearest(tmp_path: Path) -> None:
    settings = settings_with(
        tmp_path, SITE__GUIDELINE="nice-ng163", SITE__LIMITS="widst", DESTINATIONS__RECORD__PROFILE="internatonal"
    )
    with pytest.raises(SettingsError) as raised:
        rules(settings, MAPPINGS)
    assert raised.value.problems == (
        "site.guideline: there is no 'nice-ng163'; did you mean 'nice-ng136'?",
        "site.limits: there is no 'widst'; did you mean 'widest'?",
        "destinations.record.profile: there is no 'internatonal'; did you mean 'international'?",
    )


def test_the_lowest_age_may_only_be_raised(tmp_path: Path) -> None:
    assert rules(settings_with(tmp_path, SITE__LOWEST_AGE="40"), MAPPINGS).lowest_age == 40
    with pytest.raises(SettingsError, match="it may only be raised"):
        rules(settings_with(tmp_path, SITE__LOWEST_AGE="16"), MAPPINGS)


def test_production_refuses_a_guideline_whose_deciding_numbers_nobody_checked(tmp_path: Path) -> None:
    site = tmp_path / "maps"
    (site / "guidelines").mkdir(parents=True)
    origin = MAPPINGS.origins["guidelines/nice-ng136"].read_text()
    doubtful = site / "guidelines" / "ours.toml"
    doubtful.write_text(origin.replace('"verified"', '"memory"'))
    settings = settings_with(tmp_path, SITE__PRODUCTION="true")
    with pytest.raises(SettingsError, match="not all verified"):
        rules(settings, load_mappings(site))
    doubtful.write_text(
        'approved_by = "Dr Example"\napproved_on = 2026-01-05\napproved_source = "the printed guideline"\n'
        + origin.replace('"verified"', '"memory"')
    )
    assert rules(settings, load_mappings(site)).guideline.approved_by == "Dr Example"


def test_review_rule_windows_and_bounds(tmp_path: Path) -> None:
    more = """
[review]
name = "local urgent limit"
systolic_at_or_above = 180
diastolic_at_or_above = 110
readings = 2
[windows]
awake = { start = "09:00", end = "21:00" }
asleep = { start = "01:00", end = "06:00" }
[bounds]
longest_hours = 30
historical_days = 90
"""
    chosen = rules(settings_with(tmp_path, more), MAPPINGS)
    assert chosen.review is not None and chosen.windows is not None
    assert (chosen.review.systolic_at_or_above, chosen.review.readings) == (Decimal(180), 2)
    assert chosen.review.systolic_below is None
    assert (chosen.windows.awake.start, chosen.windows.asleep.end) == (time(9), time(6))
    assert chosen.time.longest == timedelta(hours=30)
    assert chosen.time.historical_after == timedelta(days=90)


def test_a_declined_review_rule_is_no_rule(tmp_path: Path) -> None:
    settings = settings_with(tmp_path, REVIEW__DECLINED_BY="Dr Example", REVIEW__DECLINED_WHY="seen by hand")
    assert rules(settings, MAPPINGS).review is None


def test_site_defaults(tmp_path: Path) -> None:
    defaults = site_defaults(settings_with(tmp_path, SITE__IDENTIFIER_SYSTEM="urn:x", WATCH__MOST_BYTES="1000"))
    assert (defaults.zone, defaults.identifier_system, defaults.most_bytes) == ("Europe/London", "urn:x", 1000)
    assert not defaults.zone_assumed


def test_nhs_numbers_are_checked_without_any_settings() -> None:
    import re

    person = default_person_rules()
    system = "https://fhir.nhs.uk/Id/nhs-number"
    assert person.systems[system] == "gb.nhs"
    # NHS numbers from 999 000 0000 on are never issued (docs.rs/nhs-number)
    assert re.fullmatch(person.test_numbers[system], "9990000018")
    assert not re.fullmatch(person.test_numbers[system], "9434765919")
    assert not person.production

"""The site's register of monitors beside a recording, and what of it reaches report and record."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from gateway.analyse import summarise
from gateway.errors import SettingsError
from gateway.fhir import check
from gateway.intake import consider
from gateway.mapping.monitors import MonitorAnswer, MonitorRules, RegisteredMonitor, plain_words
from gateway.model import Hold, HoldReason, Monitor, Recording, Severity
from gateway.noting import how_read
from gateway.report.facts import cautions
from gateway.report.words import words_of
from gateway.service.parts import tools_from
from gateway.settings import load, maps
from gateway.validate import examine
from tests.builders import NOW, a_recording
from tests.unit.fhir.building import all_codes, bodies, composed
from tests.unit.validate.ruling import examined, rules

ROOT = Path(__file__).parents[3]
SERIAL = "LM-01"
WARN, HOLD, IGNORE = MonitorAnswer.WARN, MonitorAnswer.HOLD, MonitorAnswer.IGNORE
ENDED = a_recording().ended.date()
OURS = RegisteredMonitor(serial="EX-7", model="Example 24", location="Larkmoor", calibration_due=ENDED)


def register(*entries: RegisteredMonitor, **answers: object) -> MonitorRules:
    known = {plain_words(entry.serial): entry for entry in entries or (OURS,)}
    return replace(MonitorRules(register=known, home="Larkmoor"), **answers)  # type: ignore[arg-type]


def of(serial: str | None = "EX-7", model: str | None = "Example 24", site: str | None = None) -> Recording:
    return replace(a_recording(), monitor=Monitor(serial=serial, model=model), site=site)


def said(recording: Recording, rules: MonitorRules) -> list[str]:
    return [str(each.sentence) for each in examined(recording, monitors=rules).findings if "monitor-" in each.rule]


def test_a_monitor_in_order_raises_nothing_on_its_last_day_too() -> None:
    assert said(of(), register()) == []
    assert said(of(" ex-7 ", "example  24", "LARKMOOR"), register()) == []  # as people type
    assert said(of(model=None), register()) == []


def test_without_a_register_nothing_is_looked_at() -> None:
    assert said(of("whatever"), MonitorRules(unknown=HOLD, overdue=HOLD, elsewhere=HOLD)) == []


@pytest.mark.parametrize(
    ("recording", "sentence", "reason"),
    [
        (of("EX-8"), "The monitor is not in the site's register of monitors.", HoldReason.MONITOR_UNKNOWN),
        (
            of(None),
            "The monitor is not in the site's register of monitors. (the file names no serial number)",
            HoldReason.MONITOR_UNKNOWN,
        ),
        (
            of(model="Another"),
            "The monitor is not in the site's register of monitors. "
            "(the register has another model under its serial number)",
            HoldReason.MONITOR_UNKNOWN,
        ),
        (
            of(site="Elsewhere"),
            "By the register the monitor belongs to another site. (the register has it at Larkmoor)",
            HoldReason.MONITOR_ELSEWHERE,
        ),
    ],
)
def test_each_doubt_is_ignored_warned_of_or_held(recording: Recording, sentence: str, reason: HoldReason) -> None:
    assert said(recording, register()) == [sentence]
    assert examined(recording, monitors=register()).hold is None
    every = {"unknown": IGNORE, "elsewhere": IGNORE}
    assert said(recording, register(**every)) == []
    strict = register(unknown=HOLD, elsewhere=HOLD)
    hold = examined(recording, monitors=strict).hold
    assert isinstance(hold, Hold) and hold.reason is reason and hold.rule == reason.value
    freed = examined(recording, monitors=strict, waived={reason.value})
    assert freed.hold is None
    assert [found.severity for found in freed.findings if found.rule == reason.value] == [Severity.CAUTION]


@pytest.mark.parametrize(("due", "overdue"), [(-1, True), (0, False), (1, False)])
def test_calibration_counts_to_the_day(due: int, overdue: bool) -> None:
    entry = replace(OURS, calibration_due=ENDED + timedelta(days=due))
    day = entry.calibration_due
    expected = [f"The calibration of the monitor was overdue. (due {day})"] if overdue else []
    assert said(of(), register(entry)) == expected
    hold = examined(of(), monitors=register(entry, overdue=HOLD)).hold
    assert (hold is not None and hold.reason is HoldReason.MONITOR_OVERDUE) == overdue


def test_a_warning_stands_on_the_report_in_the_conclusion_and_in_the_monitor_s_device() -> None:
    overdue = replace(of(), monitor=replace(of().monitor, location="Larkmoor", calibration_due=date(2026, 1, 31)))
    chosen = rules(monitors=register(replace(OURS, calibration_due=date(2026, 1, 31))))
    summary = summarise(overdue, examine(overdue, chosen, NOW), chosen)
    sentence = "The calibration of the monitor was overdue. (due 2026-01-31)"
    assert sentence in summary.conclusion + tuple(cautions(summary, words_of("en")))
    resources = composed(overdue, summary)
    assert check(resources, all_codes()) == ()
    (device,) = (body for body in bodies(resources, "Device") if body.get("serialNumber"))
    assert device["note"] == [{"text": sentence}]
    assert device["location"] == {"display": "Larkmoor"}
    assert device["property"] == [{"type": {"text": "Calibration due"}, "valueCode": [{"text": "2026-01-31"}]}]
    assert sentence in device["text"]["div"]
    (report,) = bodies(resources, "DiagnosticReport")
    assert sentence in report["conclusion"]
    assert {body["device"]["reference"] for body in bodies(resources, "Observation")} == {f"urn:uuid:{device['id']}"}


SETTINGS = """
[site]
timezone = "Europe/London"
identifier_system = "https://fhir.nhs.uk/Id/nhs-number"
name = "Larkmoor"
[monitors]
elsewhere = "hold"
[[monitors.known]]
serial = "{serial}"
location = "{place}"
calibration_due = 2026-01-31
"""


@pytest.mark.parametrize(("place", "held"), [("larkmoor surgery", None), ("Branch", "monitor-elsewhere")])
def test_the_register_of_the_settings_reaches_the_recording(tmp_path: Path, place: str, held: str | None) -> None:
    file, config = ROOT / "examples" / "exports" / "plain-layout.csv", tmp_path / "gateway.toml"
    config.write_text(SETTINGS.format(serial=SERIAL.lower(), place=place))
    settings, mappings = load(config, {}), maps.load(None)
    chosen = tools_from(settings, mappings)
    considered = consider(file.read_bytes(), file.name, chosen, datetime(2026, 4, 2, tzinfo=UTC))
    assert considered.recording is not None and considered.recording.monitor.serial == SERIAL
    assert considered.recording.monitor.calibration_due == date(2026, 1, 31)
    assert "monitor-overdue" in how_read(considered)["findings"]  # type: ignore[operator]
    assert (considered.hold.reason.value if considered.hold else None) == held


def test_a_serial_that_stands_twice_is_refused(tmp_path: Path) -> None:
    config = tmp_path / "gateway.toml"
    config.write_text(SETTINGS.format(serial="A", place="") + '[[monitors.known]]\nserial = " a"\n')
    with pytest.raises(SettingsError) as raised:
        load(config, {})
    assert any("stands twice" in problem for problem in raised.value.problems)

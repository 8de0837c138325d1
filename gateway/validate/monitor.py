"""Is the monitor one of the site's, calibrated, and where it belongs? Only where the site keeps a register."""

from collections.abc import Iterator

from gateway.mapping.monitors import ELSEWHERE_RULE, OVERDUE_RULE, UNKNOWN_RULE, MonitorAnswer, plain_words
from gateway.model import HoldReason
from gateway.model.phrase import Phrase
from gateway.validate.case import Case, Doubt, Remark


def monitor_registered(case: Case) -> Iterator[Remark]:
    """The serial number must be in the register, under the same model."""
    monitor, rules = case.recording.monitor, case.rules.monitors
    found = rules.of(monitor.serial)
    if not rules.register:
        return
    if not monitor.serial:
        detail = Phrase("the file names no serial number")
    elif found is None:
        detail = Phrase("")
    elif found.model and monitor.model and plain_words(found.model) != plain_words(monitor.model):
        detail = Phrase("the register has another model under its serial number")
    else:
        return
    yield from _answered(rules.unknown, UNKNOWN_RULE, HoldReason.MONITOR_UNKNOWN, detail)


def monitor_calibrated(case: Case) -> Iterator[Remark]:
    """Its calibration must not have been due before the recording ended."""
    found = case.rules.monitors.of(case.recording.monitor.serial)
    if found and found.calibration_due and found.calibration_due < case.recording.ended.date():
        detail = Phrase("due {day}", day=found.calibration_due)
        yield from _answered(case.rules.monitors.overdue, OVERDUE_RULE, HoldReason.MONITOR_OVERDUE, detail)


def monitor_at_home(case: Case) -> Iterator[Remark]:
    """It must belong to the site that the recording comes from, where both are known."""
    rules = case.rules.monitors
    found, here = rules.of(case.recording.monitor.serial), case.recording.site or rules.home
    if found and found.location and here and plain_words(found.location) != plain_words(here):
        detail = Phrase("the register has it at {place}", place=found.location)
        yield from _answered(rules.elsewhere, ELSEWHERE_RULE, HoldReason.MONITOR_ELSEWHERE, detail)


def _answered(answer: MonitorAnswer, rule: str, reason: HoldReason, detail: str) -> Iterator[Remark]:
    doubt = Doubt(rule=rule, reason=reason, detail=detail)
    if answer is MonitorAnswer.HOLD:
        yield doubt
    elif answer is MonitorAnswer.WARN:
        yield doubt.finding(frozenset({rule}))


MONITOR_RULES = (monitor_registered, monitor_calibrated, monitor_at_home)

"""Facts of one file for a person at a terminal."""

from collections.abc import Iterator

from rich.console import Console
from rich.table import Table

from gateway.mapping.guideline import Guideline
from gateway.model.facts import PreviewFacts, StatisticFacts, SummaryFacts

COLUMNS = ("24h", "awake", "asleep")


def outcome(facts: PreviewFacts) -> None:
    """Print what would be filed, or why the file would be held and what to do."""
    console = Console(highlight=False, markup=False)
    if facts.recording is not None:
        recording = facts.recording
        console.print(
            f"Read by map '{recording.source_map}' as {recording.encoding}, zone {recording.zone or 'in each cell'}"
        )
        console.print(f"From {recording.began} to {recording.ended}, {len(recording.readings)} attempts")
    if facts.hold is not None:
        console.print(f"\nWOULD BE HELD: {facts.hold.sentence}\nWhat to do: {facts.hold.action}")
    if facts.summary is not None:
        _summary(console, facts.summary)
    for finding in facts.findings:
        console.print(f"- {finding.severity}: {finding.sentence}")


def _summary(console: Console, summary: SummaryFacts) -> None:
    console.print()
    for sentence in summary.conclusion:
        console.print(sentence)
    table = Table(title=None)
    table.add_column("")
    for name in COLUMNS:
        table.add_column(name, justify="right")
    rows: dict[str, dict[str, str]] = {}
    missing: dict[str, set[str]] = {}
    for statistic in summary.statistics:
        if statistic.value is None:
            missing.setdefault(statistic.reason or "", set()).add(statistic.name)
        else:
            rows.setdefault(_label(statistic), {})[statistic.period or "24h"] = str(statistic.value)
    for label, cells in rows.items():
        table.add_row(label, *(cells.get(name, "") for name in COLUMNS))
    console.print(table)
    stated = {statistic.name for statistic in summary.statistics if statistic.value is not None}
    for reason, names in missing.items():
        if nowhere := sorted(names - stated):
            console.print(f"{', '.join(nowhere)}: {reason}")


def _label(statistic: StatisticFacts) -> str:
    day = f" (day {statistic.day})" if statistic.day > 1 else ""
    return f"{statistic.name}{day}, {statistic.unit}"


def guideline_lines(guideline: Guideline) -> Iterator[str]:
    """Every number of a guideline with its source and standing, a line each."""
    yield f"{guideline.title} ({guideline.id}), checked on {guideline.checked_on}"
    yield f"source: {guideline.citation}"
    yield f"for: {guideline.context}, from {guideline.lowest_age} years ({guideline.lowest_age_standing})"
    yield f"24-hour mean that decides: {guideline.deciding_mean}"
    yield f"periods that decide: {', '.join(guideline.deciding_periods)}"
    for limits in guideline.limits:
        for grade in limits.grades:
            if grade.systolic is None:
                continue
            mark = " (decides)" if grade.deciding else ""
            yield (
                f"{limits.period:7} at or above {grade.systolic}/{grade.diastolic}: {grade.words}{mark} "
                f"[{grade.standing}: {grade.citation}]"
            )
    rule = guideline.adequacy
    parts = {
        "percent valid": rule.percent,
        "awake": rule.awake,
        "asleep": rule.asleep,
        "in all": rule.whole,
        "hours": rule.span,
        "per waking hour": rule.per_waking_hour,
    }
    asked = ", ".join(f"{name} {value}" for name, value in parts.items() if value is not None)
    yield f"adequacy by {rule.whose}: {asked} [{rule.standing}: {rule.citation}]"
    if guideline.approved_by:
        yield f"approved locally by {guideline.approved_by} on {guideline.approved_on} ({guideline.approved_source})"
    elif guideline.needs_approval:
        yield "needs local approval before production: its deciding numbers are not all verified"

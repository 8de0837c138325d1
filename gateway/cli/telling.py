"""Facts of one file for a person at a terminal."""

from rich.console import Console
from rich.table import Table

from gateway.model.facts import PreviewFacts, StatisticFacts, SummaryFacts

FATES = {"beside": "filed beside our report", "instead": "filed instead of our report"}
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
    if facts.companion is not None:
        console.print(f"PDF of the monitor's own software: {FATES.get(facts.companion, 'not filed')}")


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

"""How a map reads a file, row by row, for a person at a terminal."""

import os
import sys
from dataclasses import dataclass, replace
from datetime import datetime

from rich.console import Console
from rich.table import Table
from rich.text import Text

from gateway.intake import Considered, Tools, consider
from gateway.mapping.source import SourceMap
from gateway.model.facts import FindingFacts, HoldFacts, ReadingFacts, RecordingFacts
from gateway.read import Trial, TriedRow, trial

PLAIN_WIDTH = 160
STYLES = {"valid": "green", "measured": "green", "excluded": "yellow", "failed": "red"}
DRAFT = "This map is a draft: the service does not use it until every line is confirmed and 'draft' is removed."


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialFacts:
    """What `mapping try --json` prints. `remarks` of reading that are not among the findings.

    A file that is held while it is read has no recording: `rows` and `doubts` are what could be seen of it.
    """

    map: str
    draft: bool
    recording: RecordingFacts | None
    remarks: tuple[str, ...]
    findings: tuple[FindingFacts, ...]
    hold: HoldFacts | None
    rows: tuple[TriedRow, ...] = ()
    doubts: tuple[str, ...] = ()


def facts_of_trial(content: bytes, name: str, source: SourceMap, tools: Tools, now: datetime) -> TrialFacts:
    """Read and validate one file by this map alone, be it a draft or not."""
    used = source.model_copy(update={"draft": False})
    considered: Considered = consider(content, name, replace(tools, sources=(used,)), now)
    facts = considered.facts
    told = {finding.sentence for finding in facts.findings}
    remarks = considered.recording.source.remarks if considered.recording else ()
    seen = trial(content, name, used, tools.defaults) if considered.recording is None else Trial(rows=(), doubts=())
    return TrialFacts(
        map=source.name,
        draft=source.draft,
        recording=facts.recording,
        remarks=tuple(remark for remark in remarks if remark not in told),
        findings=facts.findings,
        hold=facts.hold,
        rows=seen.rows,
        doubts=seen.doubts,
    )


def show(facts: TrialFacts) -> None:
    """Print the rows, then doubts, then what validation says. Colours only on a terminal that wants them."""
    width = None if sys.stdout.isatty() else PLAIN_WIDTH
    # rich leaves bold where colours are unwanted; here NO_COLOR means plain text
    plain = False if os.environ.get("NO_COLOR") else None
    console = Console(highlight=False, markup=False, width=width, force_terminal=plain)
    if facts.draft:
        console.print(Text(DRAFT, style="yellow"))
    if facts.recording is not None:
        _recording(console, facts.recording)
    if facts.rows:
        console.print(_tried(facts.rows))
    for row in facts.rows:
        for doubt in row.doubts:
            console.print(Text(f"- doubt in row {row.row}: {_shown(doubt)}", style="red"))
    for doubt in facts.doubts:
        console.print(Text(f"- doubt: {_shown(doubt)}", style="red"))
    for remark in facts.remarks:
        console.print(Text(f"- reading: {_shown(remark)}", style="yellow"))
    for finding in facts.findings:
        console.print(Text(f"- {finding.severity}: {_shown(finding.sentence)}"))
    if facts.hold is None:
        console.print(Text(f"Map '{facts.map}' reads this file, and it would go on.", style="bold green"))
        return
    console.print(Text(f"WOULD BE HELD: {_shown(facts.hold.sentence)}", style="bold red"))
    console.print(Text(f"What to do: {facts.hold.action}"))


def _recording(console: Console, recording: RecordingFacts) -> None:
    zone = recording.zone or "in each cell"
    console.print(Text(f"Read as {recording.encoding}, zone {zone}, from {recording.began} to {recording.ended}"))
    who = [recording.identifier, recording.family_name, recording.given_name, recording.birth_date]
    console.print(Text("Person: " + _shown(", ".join(each or "-" for each in who))))
    asleep = ", ".join(f"{start} to {end}" for start, end in recording.asleep)
    console.print(Text(f"Asleep: {asleep or 'the file does not say'}"))
    console.print(_rows(recording.readings))


def _tried(rows: tuple[TriedRow, ...]) -> Table:
    """Rows as the file has them, each cell below the key of the map that reads it; keys without any cell are left
    out.
    """
    table = Table()
    keys = list(dict.fromkeys(key for each in rows for key, text in each.cells if text))
    for name in ("row", *keys, "use"):
        table.add_column(name, no_wrap=name.startswith(("row", "time", "use")))
    for each in rows:
        found = dict(each.cells)
        cells = [str(each.row), *(found.get(key, "") for key in keys), each.use]
        style = "red" if each.doubts else "yellow" if each.use == "not used" else ""
        table.add_row(*(Text(_shown(cell)) for cell in cells), style=style)
    return table


def _rows(readings: tuple[ReadingFacts, ...]) -> Table:
    table = Table()
    for name in ("row", "time", "systolic", "diastolic", "mean", "heart rate", "kind", "use", "why"):
        table.add_column(name, justify="right" if name not in ("time", "kind", "use", "why") else "left")
    for each in readings:
        values = (each.systolic, each.diastolic, each.mean, each.heart_rate)
        cells = [str(each.row), each.at, *("" if value is None else str(value) for value in values)]
        cells += [each.kind, each.use, each.why or ""]
        table.add_row(*(Text(_shown(cell)) for cell in cells), style=STYLES.get(each.use, ""))
    return table


def _shown(text: str) -> str:
    """Text of a file can steer a terminal; what cannot be printed is shown as a mark."""
    return "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in text)

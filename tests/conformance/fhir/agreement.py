"""Where our own check is stricter than the judges, and why: one file, shown as a table in DEVELOPERS.md."""

import tomllib
from pathlib import Path

OPEN = Path(__file__).with_name("agreement.toml")


def open_faults() -> dict[str, str]:
    """Why no judge refuses it, for each fault that only our check refuses."""
    groups = tomllib.loads(OPEN.read_text())["open"]
    return {fault: group["why"] for group in groups for fault in group["faults"]}


def table() -> str:
    """The table of DEVELOPERS.md."""
    groups = tomllib.loads(OPEN.read_text())["open"]
    rows = (f"| {group['why']} | {'; '.join(group['faults'])} |" for group in groups)
    return "\n".join(["| why only our check refuses it | faults |", "|---|---|", *rows])

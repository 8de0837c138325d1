"""deploy/README.md agrees with what the gateway says: hold reasons, their words, and the standing of every number."""

import re
from collections.abc import Iterator
from pathlib import Path

from pydantic import BaseModel

from gateway.deliver.outcome import TABLE
from gateway.mapping.guideline import Cited, Standing
from gateway.model import ADVICE, HoldReason
from gateway.settings.maps import load

RUNBOOK = (Path(__file__).parents[2] / "deploy" / "README.md").read_text(encoding="utf-8")


def rows(columns: int) -> Iterator[list[str]]:
    for line in RUNBOOK.splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if line.startswith("| `") and len(cells) == columns:
            yield cells


def test_every_hold_reason_has_one_row_with_the_nurse_s_words_and_something_for_it() -> None:
    listed = {cells[0].strip("`"): cells[1:] for cells in rows(4)}
    assert set(listed) == {reason.value for reason in HoldReason}
    for reason, advice in ADVICE.items():
        sentence, action, for_it = listed[reason.value]
        assert (sentence, action) == (advice.sentence, advice.action), reason
        assert len(for_it) > 20, reason


def test_no_hold_reason_has_two_rows() -> None:
    names = [cells[0] for cells in rows(4)]
    assert len(names) == len(set(names)) == len(HoldReason)


def test_every_shipped_number_that_is_not_verified_is_listed() -> None:
    mappings = load(None)
    doubtful = set()
    for item in (*mappings.guidelines.values(), *mappings.limits.values()):
        doubtful |= {(item.id, place, standing) for place, standing in not_verified(item, "")}
    listed = {(cells[0].strip("`"), cells[1], cells[2]) for cells in rows(3) if cells[2] in {*Standing}}
    assert listed == doubtful


def not_verified(value: object, place: str) -> Iterator[tuple[str, str]]:
    if isinstance(value, Cited) and value.standing is not Standing.VERIFIED:
        yield place, value.standing.value
    if isinstance(value, BaseModel):
        for name in type(value).model_fields:
            below = getattr(value, name)
            if name.endswith("_standing") and below is not Standing.VERIFIED:
                yield f"{place} {name.removesuffix('_standing')}".strip(), below.value
            yield from not_verified(below, f"{place} {name}".strip())
    elif isinstance(value, tuple):
        for number, entry in enumerate(value, start=1):
            named = getattr(entry, "id", None) or getattr(entry, "period", None) or number
            yield from not_verified(entry, f"{place} {named}")


def test_no_link_of_the_runbook_leads_nowhere() -> None:
    deploy = Path(__file__).parents[2] / "deploy"
    for page in ("README.md", "SAFETY.md", "DATA-FLOW.md"):
        for target in re.findall(r"\]\(([^)#:]+)\)", (deploy / page).read_text(encoding="utf-8")):
            assert (deploy / target).exists(), (page, target)


def test_every_proof_that_the_hazard_log_names_exists() -> None:
    root = Path(__file__).parents[2]
    log = (root / "deploy" / "SAFETY.md").read_text(encoding="utf-8")
    named = set(re.findall(r"`(tests/[a-z_/]+(?:\.py)?)`", log))
    assert len(named) > 15
    assert [name for name in sorted(named) if not (root / name).exists()] == []


HAZARDS = (
    "wrong person", "wrong time", "wrong unit", "reading is missing", "wrong class", "old recording", "filed twice",
    "lost, nobody knows", "nobody sees it", "let pass unread",
)  # fmt: skip
"""Those that every filing of results by machine has (common practice)."""


def test_every_hazard_has_cause_control_proof_what_is_left_and_a_rating() -> None:
    log = (Path(__file__).parents[2] / "deploy" / "SAFETY.md").read_text(encoding="utf-8")
    found = [[cell.strip() for cell in line.strip("|").split("|")] for line in log.splitlines() if line[:3] == "| H"]
    assert [cells[0] for cells in found] == [f"H{number}" for number in range(1, len(found) + 1)]
    for name, hazard, cause, control, proof, left, severity, likelihood in found:
        assert hazard and cause and len(control) > 30 and left, name
        assert re.search(r"`(\./)?tests/", proof), name
        assert {severity, likelihood} <= set("12345"), name
    told = " ".join(cells[1].lower() for cells in found)
    assert [hazard for hazard in HAZARDS if hazard not in told] == []


def test_every_status_of_the_table_of_outcomes_is_told_with_its_hold_and_its_doubt() -> None:
    told = {
        int(status): (cells[1], cells[2])
        for cells in (line.strip("|").split("|") for line in RUNBOOK.splitlines() if line.startswith("| "))
        if len(cells) == 3 and re.match(r" [1-5]\d\d\b", cells[0])
        for status in re.findall(r"\b\d{3}\b", cells[0])
    }
    for row in TABLE:
        for status in row.statuses if len(row.statuses) < 100 else (row.statuses[0], row.statuses[-1]):
            if status == 299:
                continue
            done, asked = told[status]
            assert row.reason is None or status == 413 or f"`{row.reason}`" in done, status
            assert (asked.strip() == "yes") == row.unknown, status

"""The verdict of the judges on everything that we send, and on every fault that our check refuses."""

import os
import re
import sys
import tempfile
import time
import tomllib
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path

from tests.conformance.fhir.agreement import open_faults
from tests.conformance.fhir.corpus import corpus, sound
from tests.conformance.fhir.judges import Issue, hl7, schema
from tests.conformance.fhir.samples import definitions, samples

EXPLAINED = Path(__file__).with_name("explained.toml")
IN_FULL = 500
IN_CI = 40
BROKEN = "broken "


def main() -> int:
    """Prints what was judged and found; 0 when everything passed."""
    amount = int(os.environ.get("CONFORMANCE_RECORDINGS", IN_CI))
    with tempfile.TemporaryDirectory() as work:
        terms, folder = Path(work, "definitions"), Path(work, "bundles")
        terms.mkdir()
        folder.mkdir()
        broken = write(terms, folder, amount)
        began = time.monotonic()
        issues = [*schema(folder), *hl7(terms, folder)]
        judged = len(list(folder.iterdir())) - len(broken)
        print(f"judges took {time.monotonic() - began:.0f} s, {amount} generated recordings (in full: {IN_FULL})")
    checks = {**sound_faults(issues, judged), **agreement(issues, broken)}
    for what, faults in checks.items():
        print(f"{'ok' if not faults else 'FAILED'}: {what}")
        for fault in list(faults)[:20]:
            print(f"    {fault}")
    failed = sum(bool(faults) for faults in checks.values())
    print(f"{len(checks) - failed} passed, {failed} failed")
    return 1 if failed else 0


def write(terms: Path, folder: Path, amount: int) -> dict[str, bool]:
    """Writes all files; gives the broken ones, and whether our check refuses each."""
    for name, content in definitions():
        (terms / name).write_bytes(content)
        (folder / name).write_bytes(content)
    for name, content in samples(amount):
        (folder / name).write_bytes(content)
    for name, content in sound():
        (folder / f"{name}.json").write_bytes(content)
    refused = {}
    for name, ours, content in corpus():
        refused[name] = ours
        (folder / f"{BROKEN}{name.replace(':', '')}.json").write_bytes(content)
    return refused


def sound_faults(issues: Sequence[Issue], judged: int) -> dict[str, list[str]]:
    """Errors and unexplained warnings on what we send."""
    ours = [issue for issue in issues if not issue.file.startswith(BROKEN)]
    errors = [issue for issue in ours if issue.severity != "warning"]
    warnings = [issue for issue in ours if issue.severity == "warning"]
    entries = tomllib.loads(EXPLAINED.read_text())["warnings"]
    counts: Counter[str] = Counter()
    unexplained = []
    for issue in warnings:
        if (why := explained(issue, entries)) is None:
            unexplained.append(f"{issue.file}: {issue.place}: {issue.rule}: {issue.text[:300]}")
        else:
            counts[why] += 1
    print(f"{judged} bundles and single resources judged, {len(errors)} errors, {len(warnings)} warnings, of which")
    for why, count in counts.most_common():
        print(f"{count:7} {why}")
    unused = [f"explains nothing: {entry['rule']} {entry['text']}" for entry in entries if entry["why"] not in counts]
    return {
        f"{judged} judged without an error": [f"{item.file}: {item.place}: {item.text[:300]}" for item in errors],
        f"{len(warnings)} warnings, every kind explained": unexplained,
        f"{len(entries)} explanations, every one needed": unused,
    }


def explained(issue: Issue, entries: Iterable[dict[str, str]]) -> str | None:
    """Why a warning stands, None when nothing explains it."""
    for entry in entries:
        if entry["rule"] == issue.rule and re.search(entry["text"], issue.text):
            return entry["why"]
    return None


def agreement(issues: Sequence[Issue], broken: dict[str, bool]) -> dict[str, list[str]]:
    """Do our check and the judges say the same of every broken resource, but for what is explained?"""
    refused = {issue.file for issue in issues if issue.severity != "warning"}
    by_judge = {name for name in broken if f"{BROKEN}{name.replace(':', '')}.json" in refused}
    alone = set(broken) - by_judge
    told = open_faults()
    print(
        f"fault corpus: {len(broken)} broken, our check refuses {sum(broken.values())}, the judges {len(by_judge)};"
    )
    print(f"    {len(alone & told.keys())} refused by our check only, each explained in DEVELOPERS.md")
    return {
        f"our check refuses all {len(broken)} faults": [name for name, ours in broken.items() if not ours],
        f"{len(alone)} refused by no judge, every one explained": sorted(alone - told.keys()),
        f"{len(told)} explanations of faults, every one needed": sorted(told.keys() - alone),
    }


if __name__ == "__main__":
    sys.exit(main())

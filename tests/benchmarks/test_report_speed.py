"""Time, size and memory of one report. Aim: 25 ms and 60 kB once warm; the figures belong to the note of a change.

Every round draws another page, because a page that was just set costs the typesetter next to nothing.
"""

import resource
import statistics
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from itertools import count, cycle

from gateway.model import Recording, Summary
from gateway.report import Letterhead, render
from tests.unit.report.cases import CASES

ORDINARY = [
    case for case in CASES if case.name in {"inadequate", "day-sleeper", "child", "extreme-values", "clock-change"}
]
ROUNDS = 60
NUMBERS = count()


def jobs() -> Iterator[tuple[Recording, Summary, Letterhead]]:
    """Ordinary one-page reports, no two alike."""
    known = [(case.recording, case.summary, case.letterhead) for case in ORDINARY]
    for recording, summary, letterhead in cycle(known):
        alike = replace(recording.person, given_name=f"Alex {next(NUMBERS)}")
        yield replace(recording, person=alike), summary, letterhead


def times(rounds: int) -> list[float]:
    """Seconds of each of `rounds` reports."""
    found = []
    for _, job in zip(range(rounds), jobs(), strict=False):
        began = time.perf_counter()
        render(*job)
        found.append(time.perf_counter() - began)
    return found


def test_one_thread(benchmark) -> None:  # type: ignore[no-untyped-def]
    source = jobs()
    sizes: list[int] = []

    def one(recording: Recording, summary: Summary, letterhead: Letterhead) -> None:
        sizes.append(len(render(recording, summary, letterhead)))

    benchmark.pedantic(one, setup=lambda: (next(source), {}), warmup_rounds=10, rounds=ROUNDS)
    benchmark.extra_info["median_bytes"] = statistics.median(sizes)
    assert statistics.median(sizes) <= 61_440  # 60 kB


def test_two_threads(benchmark) -> None:  # type: ignore[no-untyped-def]
    found: list[float] = []

    def work() -> None:
        times(5)
        found.extend(times(ROUNDS // 2))

    def both() -> None:
        threads = [threading.Thread(target=work) for _ in range(2)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()

    benchmark.pedantic(both, rounds=1)
    benchmark.extra_info["median_ms_each"] = round(1000 * statistics.median(found), 1)
    assert len(found) == ROUNDS


def test_memory_stays_level(benchmark) -> None:  # type: ignore[no-untyped-def]
    """The typesetter remembers what it has set; two hundred more reports must not cost two hundred pages."""
    times(60)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    benchmark.pedantic(times, args=(200,), rounds=1)
    grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    benchmark.extra_info["peak_kb"] = before + grown
    benchmark.extra_info["grown_kb"] = grown
    assert grown < 60_000

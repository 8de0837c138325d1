"""Time, size and memory of one report. Aim: 25 ms and 60 kB once warm; figures in the note of the change."""

import resource
import statistics
import threading
import time

from gateway.report import render
from tests.unit.report.cases import BY_NAME

CASE = BY_NAME["clock-change"]
SUMMARY = CASE.summary
ROUNDS = 60


def times(rounds: int) -> list[float]:
    found = []
    for _ in range(rounds):
        began = time.perf_counter()
        render(CASE.recording, SUMMARY, CASE.letterhead)
        found.append(time.perf_counter() - began)
    return found


def test_one_thread(benchmark) -> None:  # type: ignore[no-untyped-def]
    content = benchmark.pedantic(
        render, args=(CASE.recording, SUMMARY, CASE.letterhead), warmup_rounds=5, rounds=ROUNDS
    )
    benchmark.extra_info["bytes"] = len(content)
    assert len(content) < 72_000


def test_two_threads(benchmark) -> None:  # type: ignore[no-untyped-def]
    found: list[float] = []

    def work() -> None:
        times(3)
        found.extend(times(ROUNDS // 2))

    def both() -> None:
        threads = [threading.Thread(target=work) for _ in range(2)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()

    benchmark.pedantic(both, rounds=1)
    benchmark.extra_info["median_ms"] = round(1000 * statistics.median(found), 1)
    assert len(found) == ROUNDS


def test_memory_stays_level(benchmark) -> None:  # type: ignore[no-untyped-def]
    """Typst remembers pages it has set; two hundred more reports must not cost two hundred pages."""
    times(50)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    benchmark.pedantic(times, args=(200,), rounds=1)
    grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    benchmark.extra_info["peak_kb"] = before + grown
    benchmark.extra_info["grown_kb"] = grown
    assert grown < 60_000

"""Time, size and memory of one report. Aim: 25 ms and 60 kB once warm; the figures belong to the note of a change.

Every round draws another page, because a page that was just set costs the typesetter next to nothing.
"""

import random
import resource
import statistics
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from itertools import count, cycle

from gateway.model import Recording, Schedule, Summary
from gateway.report import Letterhead, render
from tests.builders import a_recording, readings_over
from tests.unit.report.cases import SURGERY, WORN, at, course, every_20_or_30, spoilt
from tests.unit.report.summing import summary_of

ROUNDS = 60
DIFFERENT = 80
NUMBERS = count()


def recorded(seed: int) -> Recording:
    """A day with its own levels, times and failures."""
    chance = random.Random(seed)
    awake = chance.randint(118, 150), chance.randint(70, 92), chance.randint(60, 85)
    asleep = awake[0] - chance.randint(0, 25), awake[1] - chance.randint(0, 18), awake[2] - chance.randint(3, 15)
    profile = course(awake, asleep, swing=chance.uniform(0.6, 1.6))
    readings = readings_over(
        at(3, chance.randint(8, 10), chance.randint(0, 9)), every=every_20_or_30, profile=profile
    )
    failed = tuple(chance.sample(range(60), chance.randint(0, 6)))
    return a_recording(spoilt(readings, failed), schedule=Schedule(interval_day=20, interval_night=30), monitor=WORN)


@cache
def ordinary() -> tuple[tuple[Recording, Summary], ...]:
    recordings = [recorded(seed) for seed in range(DIFFERENT)]
    return tuple((one, summary_of(one)) for one in recordings)


def jobs() -> Iterator[tuple[Recording, Summary, Letterhead]]:
    """Ordinary one-page reports, no two alike in name or numbers within the typesetter's memory."""
    for recording, summary in cycle(ordinary()):
        person = replace(recording.person, given_name=f"Alex {next(NUMBERS)}")
        yield replace(recording, person=person), summary, SURGERY


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
    processor: list[float] = []
    passed: list[float] = []  # ours, as the benchmark measures nothing where tests run beside each other

    def one(recording: Recording, summary: Summary, letterhead: Letterhead) -> None:
        began, by_clock = time.process_time(), time.perf_counter()
        sizes.append(len(render(recording, summary, letterhead)))
        passed.append(time.perf_counter() - by_clock)
        processor.append(time.process_time() - began)

    benchmark.pedantic(one, setup=lambda: (next(source), {}), warmup_rounds=10, rounds=ROUNDS)
    benchmark.extra_info["median_ms"] = round(1000 * statistics.median(passed[-ROUNDS:]), 1)
    benchmark.extra_info["median_processor_ms"] = round(1000 * statistics.median(processor), 1)
    benchmark.extra_info["least_processor_ms"] = round(1000 * min(processor), 1)
    benchmark.extra_info["median_bytes"] = statistics.median(sizes)
    assert statistics.median(sizes) <= 61_440  # 60 kB


def test_two_threads(benchmark) -> None:  # type: ignore[no-untyped-def]
    found: list[float] = []
    passed: list[float] = []

    def work() -> None:
        times(5)
        found.extend(times(ROUNDS // 2))

    def both() -> None:
        began = time.perf_counter()
        threads = [threading.Thread(target=work) for _ in range(2)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        passed.append(time.perf_counter() - began)

    benchmark.pedantic(both, rounds=1)
    benchmark.extra_info["median_ms_each"] = round(1000 * statistics.median(found), 1)
    benchmark.extra_info["reports_a_second"] = round((ROUNDS + 10) / passed[-1], 1)
    benchmark.extra_info["peak_kb"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
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

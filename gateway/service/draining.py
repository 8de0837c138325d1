"""Everything that is due is sent, one destination beside the other, so that a slow one delays none."""

import threading
import time
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor

from gateway.pipeline import Sent

LONGEST_WAIT = 1.0
"""Seconds between looks whether to stop, while a rate is waited for."""


def drain(
    at_once: Mapping[str, int],
    send: Callable[[str], Sent | None],
    wait: Callable[[str], float],
    each: Callable[[Sent], None],
) -> None:
    """Call `send(name)` for every destination until nothing is due there, and `each` with what became of it, never
    two at the same time. `wait(name)`: seconds until its rate lets more go, 0.0 for no reason to wait.

    Raises what `send` or `each` raises; the steps in hand are finished first.
    """
    stop, one_by_one = threading.Event(), threading.Lock()

    def work(name: str) -> None:
        try:
            while not stop.is_set():
                sent = send(name)
                if sent is not None:
                    with one_by_one:
                        each(sent)
                elif seconds := wait(name):
                    time.sleep(min(seconds, LONGEST_WAIT))
                else:
                    return
        except BaseException:
            stop.set()
            raise

    workers = [name for name, number in at_once.items() for _ in range(number)]
    with ThreadPoolExecutor(max_workers=max(len(workers), 1)) as pool:
        try:
            for done in [pool.submit(work, name) for name in workers]:
                done.result()
        finally:
            stop.set()

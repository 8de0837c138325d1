"""Run a transaction again when the database broke it off."""

import time
from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

from gateway.store.postgres_words import Interrupted

PAUSES = (0.1, 0.3, 1.0, 3.0, 8.0, 15.0)
"""Seconds. Longer than a database needs to restart or to change over to its standby."""

Given = ParamSpec("Given")
Result = TypeVar("Result")


def again(transaction: Callable[Given, Result]) -> Callable[Given, Result]:
    """For steps whose loss would cost a whole lease. Safe, as fences and states show when the first run, of which the
    answer was lost, had its effect after all.
    """

    @wraps(transaction)
    def repeated(*given: Given.args, **named: Given.kwargs) -> Result:
        for pause in PAUSES:
            try:
                return transaction(*given, **named)
            except Interrupted:
                time.sleep(pause)
        return transaction(*given, **named)

    return repeated

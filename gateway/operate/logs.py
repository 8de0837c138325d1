"""Logs without persons: an allow-list of fields, held in one pure function.

What is not on the list is dropped, whoever logs it. File names may hold a person's name, so they stand in the log as
a short hash only; `file_mark` gives the same hash for looking a file up.
"""

import contextlib
import logging
import re
import sys
import traceback
from collections.abc import Mapping
from hashlib import sha256
from typing import Any, Literal, Protocol, TextIO, cast

import structlog

from gateway.errors import GatewayError

ALLOWED = frozenset(
    {
        "attempt",
        "count",
        "destination",
        "kind",
        "level",
        "outcome",
        "part",
        "reason",
        "recording",
        "said",
        "seconds",
        "software",
        "state",
        "status",
        "timestamp",
        "where",
    }
)
"""Codes, counts, times, our own opaque numbers, and sentences of our own making (`said`, see `fault`)."""

LONGEST = 300
_EVENT = re.compile(r"[a-z][a-z0-9 -]{0,60}")


class Log(Protocol):
    """What the service uses of a logger: a short event name in small letters, and fields."""

    def info(self, event: str, **fields: object) -> object:
        """Something happened as it should."""

    def warning(self, event: str, **fields: object) -> object:
        """Something that somebody may want to look at."""

    def error(self, event: str, **fields: object) -> object:
        """Something that somebody must look at."""


def allowed(fields: Mapping[str, Any]) -> dict[str, Any]:
    """What may be written of one log entry. Pure; everything else is dropped."""
    event = str(fields.get("event", ""))
    kept: dict[str, Any] = {"event": event if _EVENT.fullmatch(event) else "unnamed"}
    for name, value in fields.items():
        if name == "file":
            kept[name] = file_mark(str(value))
        elif name in ALLOWED and (value is None or isinstance(value, bool | int | float)):
            kept[name] = value
        elif name in ALLOWED and isinstance(value, str):
            kept[name] = " ".join(value.split())[:LONGEST]  # one entry stays one line
    return kept


def file_mark(name: str) -> str:
    """The short hash under which a file's name stands in the log."""
    return sha256(name.encode("utf-8", "surrogateescape")).hexdigest()[:12]


def fault(error: BaseException) -> dict[str, str]:
    """Fields for an error: its kind, where it arose, and its words only where they are known to name nobody."""
    if isinstance(error, OSError):
        said = error.strerror or ""  # without the path: a file name may hold a person's name
    else:
        said = str(error) if isinstance(error, GatewayError) else ""
    frames = traceback.extract_tb(error.__traceback__)
    where = f"{frames[-1].filename.rpartition('gateway/')[2]}:{frames[-1].lineno}" if frames else ""
    return {"kind": type(error).__name__, "said": said, "where": where}


def open_log(form: Literal["json", "console"], level: str, out: TextIO | None = None) -> Log:
    """A logger that writes one line for each entry to `out` (standard error), which systemd keeps in its journal."""
    renderer: Any = (
        structlog.processors.JSONRenderer(sort_keys=True)
        if form == "json"
        else structlog.dev.ConsoleRenderer(colors=False)
    )
    log: Log = structlog.wrap_logger(
        structlog.PrintLogger(cast("TextIO", _Unbreakable(out or sys.stderr))),
        processors=[
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            _drop_the_rest,
            renderer,
        ],
        wrapper_class=structlog.make_filtering_bound_logger(logging.getLevelNamesMapping()[level.upper()]),
        cache_logger_on_first_use=True,
    )
    return log


class _Unbreakable:
    """The way out of the log. Work does not end because nobody can hear of it, as when the log's own disk is full."""

    def __init__(self, out: TextIO) -> None:
        self._out = out

    def write(self, text: str) -> int:
        """The text, or nothing."""
        with contextlib.suppress(OSError):
            return self._out.write(text)
        return 0

    def flush(self) -> None:
        """What can be written."""
        with contextlib.suppress(OSError):
            self._out.flush()


def _drop_the_rest(_logger: Any, _method: str, fields: Mapping[str, Any]) -> dict[str, Any]:
    return allowed(fields)

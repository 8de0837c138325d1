"""Options that every command shares, and the way from a settings file to settings."""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout
from enum import IntEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from gateway.settings import Settings
    from gateway.settings.maps import Mappings
    from gateway.store import Ambiguous, Decided, NotFound, NotPossible

ConfigOption = Annotated[
    Path | None,
    typer.Option("--config", help="Settings file (TOML). Without it: $BP_GATEWAY_CONFIG.", show_default=False),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print facts as JSON, for scripts.")]
ByOption = Annotated[str, typer.Option("--by", help="Your name; it is kept in the audit log.")]
WhyOption = Annotated[str, typer.Option("--why", help="The reason; it is kept in the audit log.")]


class ExitCode(IntEnum):
    """What a script can rely on."""

    WELL = 0
    ATTENTION = 1
    WRONG_USE = 2
    UNREACHABLE = 3


def settings_only(config: Path | None) -> "Settings":
    """Settings that work can begin with. Raises SettingsError with every problem."""
    from gateway.settings import load, ready_for_work

    named = config or (Path(value) if (value := os.environ.get("BP_GATEWAY_CONFIG")) else None)
    settings = load(named, os.environ)
    ready_for_work(settings)
    return settings


def settings_from(config: Path | None) -> "tuple[Settings, Mappings]":
    """Settings and mappings, for commands that read files. Raises SettingsError or MappingError."""
    from gateway.settings.maps import load as load_mappings

    settings = settings_only(config)
    return settings, load_mappings(settings.mappings.folder)


def example(text: str) -> dict[str, Any]:
    """Help text that ends a command's `--help` with an example."""
    return {"epilog": f"Example: {text}"}


def print_json(value: object) -> None:
    """Facts for scripts: stable key order, numbers exact, missing is null."""
    from gateway.model.plain import plain_json

    typer.echo(plain_json(value).decode())


def one(found: "str | NotFound | Ambiguous") -> str:
    """The number that was meant; ends the command with words when there is none or more than one."""
    if isinstance(found, str):
        return found
    many = getattr(found, "ids", ())
    words = (
        f"several numbers begin with '{found.prefix}': {', '.join(each[:12] for each in many)}"
        if many
        else (f"no number begins with '{found.prefix}'; `bp-gateway held list` and `bp-gateway status` show them")
    )
    typer.echo(words, err=True)
    raise typer.Exit(ExitCode.WRONG_USE)


def done(decided: "Decided | NotPossible") -> "Decided":
    """What a person decided; ends the command with words when it is not possible."""
    from gateway.store import NotPossible

    if isinstance(decided, NotPossible):
        typer.echo(decided.why, err=True)
        raise typer.Exit(ExitCode.WRONG_USE)
    return decided


@contextmanager
def apart_from_output() -> Iterator[None]:
    """While a file is read: what a library prints about a damaged workbook goes to the error output, so that scripts
    get facts and nothing else. For commands only: it counts for the whole process.
    """
    with redirect_stdout(sys.stderr):
        yield


def content_of(file: Path, most: int) -> bytes:
    """The bytes of a file that the user named; ends the command with words when it cannot be opened."""
    try:
        with file.open("rb") as opened:
            return opened.read(most + 1)  # one byte too many tells the reader that the file is too large
    except OSError as error:
        typer.echo(f"{file}: cannot be opened ({error.strerror})", err=True)
        raise typer.Exit(ExitCode.WRONG_USE) from None


def said(text: str, option: str) -> str:
    """What a person said about a decision, without blanks at the edge. Ends the command when it is nothing."""
    if not text.strip():
        raise typer.BadParameter("must not be empty; it is kept in the audit log", param_hint=option)
    return text.strip()

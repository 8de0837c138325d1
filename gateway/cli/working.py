"""`run` and `once`: the commands that do the work."""

import signal
import threading
from pathlib import Path
from typing import Annotated

import typer

from gateway.cli.options import ConfigOption, ExitCode, JsonOption, example, print_json, settings_from


def add_to(app: typer.Typer) -> None:
    """Put these commands into the command line."""
    app.command(**example("bp-gateway run --config /etc/bp-gateway/gateway.toml"))(run)
    app.command(**example("bp-gateway once --config gateway.toml export-1.csv export-2.csv"))(once)


def run(config: ConfigOption = None) -> None:
    """Be the service: watch, process and deliver until stopped (SIGTERM finishes the step in hand)."""
    from gateway.service.opening import opened

    settings, mappings = settings_from(config)
    stop = threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: stop.set())
    with opened(settings, mappings, stop) as service:
        service.run(stop)


def once(
    files: Annotated[
        list[Path] | None,
        typer.Argument(help="Files to take in; without any: what lies in the inbox.", show_default=False),
    ] = None,
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Take in the inbox (or the named files) once, deliver until nothing is due, and stop."""
    from gateway.cli.progress import Shown
    from gateway.service.opening import opened

    settings, mappings = settings_from(config)
    with opened(settings, mappings) as service, Shown(quiet=as_json) as shown:
        account = service.once(tuple(files or ()), shown.tell)
    if as_json:
        print_json(account)
    else:
        typer.echo(
            f"{account.taken} taken in, {account.again} seen before, {account.delivered} delivered, "
            f"{account.held} held, {account.postponed} postponed"
        )
        for line in account.remarks:
            typer.echo(line)
    if account.unreachable:
        raise typer.Exit(ExitCode.UNREACHABLE)
    if account.held or account.waiting or account.neglected:
        raise typer.Exit(ExitCode.ATTENTION)

"""`reconcile`: what a server holds beside what was filed."""

from collections.abc import Iterator
from datetime import datetime
from typing import TYPE_CHECKING, Annotated
from zoneinfo import ZoneInfo

import typer

from gateway.cli.options import ConfigOption, ExitCode, JsonOption, example, print_json, settings_from

if TYPE_CHECKING:
    from gateway.model.reconciled import Difference
    from gateway.reconciling import Reconciled


def add_to(app: typer.Typer) -> None:
    """Put this command into the command line."""
    app.command(
        **example(
            "bp-gateway reconcile --since 2026-03-01 --config gateway.toml   |   "
            "bp-gateway reconcile --since 2026-03-01 --destination record --repair --config gateway.toml"
        )
    )(reconcile)


def reconcile(
    since: Annotated[
        datetime, typer.Option("--since", formats=["%Y-%m-%d"], help="What was delivered on this day or later.")
    ],
    destination: Annotated[
        str | None, typer.Option("--destination", help="Only this one; without it every record server.")
    ] = None,
    repair: Annotated[
        bool, typer.Option("--repair", help="Send again what is missing. Doubled, changed and foreign stay.")
    ] = False,
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Compare what was filed with what each server holds: missing, doubled, changed and foreign entries.

    Nothing is written without --repair, and nothing is ever deleted or overwritten. Exit codes: 0 all is there, once,
    as filed; 1 something differs; 3 a server could not be reached.
    """
    from gateway.service.reconciling import reconciled
    from gateway.service.storing import opened_store

    settings, mappings = settings_from(config)
    names = tuple(each.name for each in settings.destinations)
    if destination is not None and destination not in names:
        raise typer.BadParameter(f"the settings know {', '.join(names)}", param_hint="--destination")
    wanted = (destination,) if destination else names
    begin = since.replace(tzinfo=ZoneInfo(settings.site.timezone or "UTC"))
    with opened_store(settings) as store:
        found = reconciled(settings, mappings, store, wanted, begin, repair)
    if as_json:
        print_json({"destinations": found})
    else:
        for each in found:
            for line in _lines(each):
                typer.echo(line)
    if any(each.unreachable for each in found):
        raise typer.Exit(ExitCode.UNREACHABLE)
    if any(compared.differences for each in found for compared in each.found):
        raise typer.Exit(ExitCode.ATTENTION)


def _lines(told: "Reconciled") -> Iterator[str]:
    left = [each for compared in told.found for each in compared.differences]
    counts = {fault: sum(each.fault == fault for each in left) for fault in sorted({each.fault for each in left})}
    said = ", ".join(f"{count} {fault}" for fault, count in counts.items()) or (
        "none differs so far" if told.unreachable else "all as filed"
    )
    yield f"{told.destination}: {told.recordings} recordings with {told.entries} entries compared: {said}"
    if told.unreachable:
        yield f"  not compared to the end: {told.unreachable}"
    for compared in told.found:
        where = f"of recording {compared.recording_id[:12]}"
        for each in compared.repaired:
            yield f"  sent again: {each.type} {each.resource_id} {where}"
        for each in compared.differences:
            yield f"  {each.fault}: {_said(each)} {where}"
        if compared.not_sent:
            yield f"  not mended {where}: {compared.not_sent}"


def _said(each: "Difference") -> str:
    lies = f" at {', '.join(each.server_ids)}" if each.server_ids else ""
    what = f" ({each.what})" if each.what else ""
    return f"{each.type or 'everything'} {each.resource_id}".strip() + lies + what

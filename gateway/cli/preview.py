"""`preview`: what would be filed, or why the file would be held; nothing is sent or stored."""

import os
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gateway.cli.options import ConfigOption, ExitCode, JsonOption, apart_from_output, content_of, example

if TYPE_CHECKING:
    from gateway.intake import Considered, Tools


def add_to(app: typer.Typer) -> None:
    """Put this command into the command line."""
    app.command(**example("bp-gateway preview export.csv --timezone Europe/London --pdf report.pdf"))(preview)


def preview(
    file: Annotated[Path | None, typer.Argument(help="The exported file.", show_default=False)] = None,
    config: ConfigOption = None,
    as_json: JsonOption = False,
    bundle: Annotated[bool, typer.Option("--bundle", help="Print the FHIR R4 bundle instead.")] = False,
    destination: Annotated[
        str | None, typer.Option("--destination", help="With --bundle: as this destination would get it.")
    ] = None,
    pdf: Annotated[Path | None, typer.Option("--pdf", help="Write the one-page report here.")] = None,
    companion: Annotated[
        Path | None,
        typer.Option(
            "--companion",
            help="The PDF of the monitor's own software; else the one of the same stem, if settings say so.",
            show_default=False,
        ),
    ] = None,
    schema: Annotated[bool, typer.Option("--schema", help="Print the JSON Schema of --json and stop.")] = False,
    timezone: Annotated[
        str | None, typer.Option("--timezone", help="Zone of the readings where the file is silent (IANA name).")
    ] = None,
    guideline: Annotated[
        str | None, typer.Option("--guideline", help="Guideline to use; see `bp-gateway guideline list`.")
    ] = None,
) -> None:
    """Show everything that would be filed, or why the file would be held. Needs no server and no settings."""
    if schema:
        _print_schema()
        return
    if file is None:
        raise typer.BadParameter("name the file to look at", param_hint="FILE")
    from gateway.cli.telling import outcome
    from gateway.intake import consider
    from gateway.model.plain import plain_json
    from gateway.service.previewing import bundle_bytes, preview_tools, with_companion

    tools = preview_tools(config, os.environ, timezone=timezone, guideline=guideline)
    now = datetime.now(UTC)
    with apart_from_output():
        considered = consider(content_of(file, tools.defaults.most_bytes), file.name, tools, now)
    considered = with_companion(considered, file, companion, tools)
    if pdf is not None:
        _write_pdf(considered, tools, now, pdf)
    if as_json:
        sys.stdout.buffer.write(plain_json(considered.facts) + b"\n")
    elif bundle and considered.hold is None:
        sys.stdout.buffer.write(bundle_bytes(considered, tools, now, destination) + b"\n")
    else:
        outcome(considered.facts)
        for line in _where_to(considered, tools):
            typer.echo(line)
    if considered.hold is not None:
        raise typer.Exit(ExitCode.ATTENTION)


def _where_to(considered: "Considered", tools: "Tools") -> Iterator[str]:
    """Said where there is a choice: with one destination that takes everything there is nothing to say."""
    from gateway.intake import where_to

    found = where_to(considered, tools)
    if len(found) > 1 or any(kept_back for _, kept_back in found):
        for route, kept_back in found:
            yield f"to {route.filing.destination}: " + (f"no, {kept_back.value}" if kept_back else "yes")


def _print_schema() -> None:
    import orjson
    from pydantic import TypeAdapter

    from gateway.model.facts import PreviewFacts

    sys.stdout.buffer.write(orjson.dumps(TypeAdapter(PreviewFacts).json_schema(), option=orjson.OPT_INDENT_2) + b"\n")


def _write_pdf(considered: "Considered", tools: "Tools", now: datetime, pdf: Path) -> None:
    from gateway.intake import make

    if considered.hold is not None:
        typer.echo("no report: the file would be held", err=True)
        return
    made = make(considered, tools, now)
    drawn = made.report
    if made.companion and made.companion.replaces and made.companion.filed:
        pdf.write_bytes(made.companion.filed)
        typer.echo(f"the PDF of the monitor's own software is filed instead of a report; written to {pdf}", err=True)
    elif drawn is None:
        typer.echo("the report could not be drawn; readings and summary are not affected", err=True)
    else:
        pdf.write_bytes(drawn)
        typer.echo(f"report written to {pdf}", err=True)

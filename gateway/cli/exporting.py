"""`export`: one row per recording for a practice audit."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from gateway.cli.options import ConfigOption, ExitCode, example, settings_from


def add_to(app: typer.Typer) -> None:
    """Put this command into the command line."""
    app.command(**example("bp-gateway export --since 2026-01-01 --to audit.csv --config gateway.toml"))(export)


def export(
    since: Annotated[
        datetime | None,
        typer.Option("--since", formats=["%Y-%m-%d"], help="Recordings that ended on this day or later."),
    ] = None,
    to: Annotated[Path | None, typer.Option("--to", help="New file to write (.csv or .parquet).")] = None,
    identifiers: Annotated[
        bool, typer.Option("--identifiers", help="Keep the persons' numbers; needs --by.")
    ] = False,
    by: Annotated[str, typer.Option("--by", help="Your name; it is kept in the audit log.")] = "",
    columns: Annotated[bool, typer.Option("--columns", help="Print what each column means and stop.")] = False,
    config: ConfigOption = None,
) -> None:
    """Write a table with one row per recording. Persons stand under pseudonyms unless --identifiers is given."""
    if columns:
        _print_columns()
        return
    if since is None or to is None:
        raise typer.BadParameter("name the first day and the file to write", param_hint="--since, --to")
    _can_be_written(to)
    if identifiers and not by.strip():
        raise typer.BadParameter("needs your name: --by", param_hint="--identifiers")
    from gateway.service.exporting import Wanted, written
    from gateway.service.storing import opened_store

    settings = settings_from(config)[0]
    zone = settings.site.timezone or "UTC"
    wanted = Wanted(since=since.date(), zone=zone, identifiers=identifiers, by=by.strip())
    with opened_store(settings) as store:
        count = written(store, wanted, to, datetime.now(UTC))
    if count is None:
        typer.echo(f"{to} is there already or cannot be written; nothing was overwritten", err=True)
        raise typer.Exit(ExitCode.WRONG_USE)
    typer.echo(f"{count} recordings written to {to}")


def _can_be_written(to: Path) -> None:
    from gateway.cohort import parquet_available

    kind = to.suffix.lower()
    if kind not in (".csv", ".parquet"):
        raise typer.BadParameter("only .csv and .parquet are written", param_hint="--to")
    if kind == ".parquet" and not parquet_available():
        raise typer.BadParameter(
            "a .parquet file needs the package pyarrow, which is not installed; install it with "
            "`pip install --require-hashes -r deploy/requirements-parquet.txt`, or write .csv",
            param_hint="--to",
        )


def _print_columns() -> None:
    from gateway.cohort import COLUMNS, IDENTIFYING

    typer.echo("Only with --identifiers:")
    for column in IDENTIFYING:
        typer.echo(f"  {column.name}: {column.meaning}")
    typer.echo("Always:")
    for column in COLUMNS:
        unit = f" [{column.unit}]" if column.unit else ""
        typer.echo(f"  {column.name}: {column.meaning}{unit}")

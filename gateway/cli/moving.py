"""`store`: the place where everything is kept."""

import typer

from gateway.cli.options import ByOption, ConfigOption, JsonOption, example, print_json, said, settings_only

app = typer.Typer(help="The place where everything is kept.", no_args_is_help=True)


@app.callback()
def _several() -> None:
    """A group, so that `move` stays a word of its own: a lone command would be called by `store` alone."""


@app.command(**example("bp-gateway store move --config gateway.toml --by 'R. Marlow'"))
def move(by: ByOption, config: ConfigOption = None, as_json: JsonOption = False) -> None:
    """Move the SQLite store of the state folder into the PostgreSQL database that store.url names.

    Stop the service first. Every row is compared before anything counts; the old file is kept under another name.
    """
    from gateway.service.loop import now
    from gateway.service.moving import moved

    named, settings = said(by, "--by"), settings_only(config)
    counts, kept = moved(settings, named, now(), _told if not as_json else lambda *_: None)
    if as_json:
        print_json({"rows": counts, "kept": str(kept)})
    elif counts is None:
        typer.echo(f"Every row was moved before. The old store is put away now, as {kept}.")
    else:
        typer.echo(f"{sum(counts.values())} rows moved and compared. The old store is kept as {kept}.")


def _told(table: str, count: int) -> None:
    typer.echo(f"{count:8} {table}")

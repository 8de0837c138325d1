"""`expect`: the list of who has which monitor from when."""

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gateway.cli.options import ByOption, ConfigOption, ExitCode, content_of, example, said, settings_only

if TYPE_CHECKING:
    from gateway.service.expecting import Listed

app = typer.Typer(help="Who has which monitor from when: the list of expected recordings.", no_args_is_help=True)
DAYS = ["%Y-%m-%d", "%Y-%m-%dT%H:%M"]
_MOST_BYTES = 1_000_000


@app.command(
    **example('bp-gateway expect add --monitor EX-1 --number 9990000018 --from 2026-03-04T09:00 --by "A. Nurse"')
)
def add(
    monitor: Annotated[str, typer.Option("--monitor", help="Serial number of the monitor, as its exports have it.")],
    number: Annotated[str, typer.Option("--number", help="The person's number, in the site's system.")],
    begins: Annotated[datetime, typer.Option("--from", formats=DAYS, help="When it is handed out; local time.")],
    by: ByOption,
    ends: Annotated[
        datetime | None,
        typer.Option("--until", formats=DAYS, help="When it is back; else the next entry of the monitor ends it."),
    ] = None,
    config: ConfigOption = None,
) -> None:
    """Put one person on the list."""
    from gateway.service.expecting import Listed

    _put(config, [Listed(monitor=monitor, number=number, begins=begins, ends=ends, place="")], by)


@app.command(**example('bp-gateway expect load bookings.csv --by "A. Nurse" --config gateway.toml'))
def load(
    file: Annotated[Path, typer.Argument(help="CSV with the columns monitor, number, from and until.")],
    by: ByOption,
    config: ConfigOption = None,
) -> None:
    """Put a booking export on the list: all of it, or with a fault in any line nothing."""
    from gateway.service.expecting import listed

    _put(config, listed(content_of(file, _MOST_BYTES)), by)


@app.command("list", **example("bp-gateway expect list --config gateway.toml"))
def list_(config: ConfigOption = None) -> None:
    """Print the list."""
    from zoneinfo import ZoneInfo

    from gateway.service.storing import opened_store

    settings = settings_only(config)
    with opened_store(settings) as store:
        entries = store.expected()
    zone = ZoneInfo(settings.site.timezone or "UTC")
    for each in entries:
        until = f"{each.ends.astimezone(zone):%Y-%m-%d %H:%M}" if each.ends else "the next entry"
        begins = f"{each.begins.astimezone(zone):%Y-%m-%d %H:%M}"
        typer.echo(f"{each.number}  monitor {each.serial}: {each.person} from {begins} until {until} ({each.by})")
    if not entries:
        typer.echo("Nobody is on the list.")


@app.command(**example('bp-gateway expect remove 12 --by "A. Nurse" --config gateway.toml'))
def remove(
    entry: Annotated[int, typer.Argument(help="The first number of its line in `expect list`.")],
    by: ByOption,
    config: ConfigOption = None,
) -> None:
    """Take an entry off the list."""
    from gateway.service.storing import opened_store

    with opened_store(settings_only(config)) as store:
        if not store.expect_no_more(entry, said(by, "--by"), datetime.now(UTC)):
            typer.echo(f"there is no entry {entry}", err=True)
            raise typer.Exit(ExitCode.WRONG_USE)
    typer.echo(f"entry {entry} is off the list")


def _put(config: Path | None, lines: "list[Listed]", by: str) -> None:
    from gateway.service.expecting import entries
    from gateway.service.storing import opened_store

    settings, by = settings_only(config), said(by, "--by")
    with opened_store(settings) as store:
        store.expect(entries(lines, settings, store.key), by, datetime.now(UTC))
    typer.echo(f"{len(lines)} on the list")

"""`reprocess` and `sign-off`: a filed result is made anew, or signed off."""

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Annotated

import typer

from gateway.cli.options import (
    ConfigOption,
    ExitCode,
    done,
    example,
    one,
    said,
    settings_from,
)

if TYPE_CHECKING:
    from gateway.amending import Anew
    from gateway.model import Hold
    from gateway.store import NotPossible

RecordingArgument = Annotated[
    str, typer.Argument(help="The recording's number; its first letters are enough.", show_default=False)
]


def add_to(app: typer.Typer) -> None:
    """Register the commands."""
    app.command(**example('bp-gateway reprocess 3f2a9c1e --why "guideline of 2024" --by "Dr A. Example"'))(reprocess)
    app.command("sign-off", **example('bp-gateway sign-off 3f2a9c1e --by "Dr A. Example"'))(sign_off)


def reprocess(
    recording: RecordingArgument,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Only show what would change.")] = False,
    by: Annotated[str, typer.Option("--by", help="Who decides: your name.", show_default=False)] = "",
    why: Annotated[str, typer.Option("--why", help="The reason, for the audit log.", show_default=False)] = "",
    config: ConfigOption = None,
) -> None:
    """Make a filed result anew from its original file, by the mappings, guideline and settings of now.

    Shows every difference first; `--dry-run` stops there. What changed goes into the records as a correction, and is
    marked as not yet reviewed. Nothing is done by itself after a change of settings.
    """
    from gateway import amending
    from gateway.service.parts import tools_from
    from gateway.service.storing import opened_store

    named = ("", "") if dry_run else (said(by, "--by"), said(why, "--why"))
    settings, mappings = settings_from(config)
    tools, moment = tools_from(settings, mappings), datetime.now(UTC)
    with opened_store(settings) as store:
        anew = _possible(amending.made_anew(store, tools, one(store.find(recording)), moment))
        _show(anew)
        if dry_run or not anew.sent:
            return
        decided = done(amending.reprocess(store, anew, *named, moment))
    typer.echo(f"correcting {decided.recording_id[:8]}: the service brings it into every record; see `status`")


def sign_off(
    recording: RecordingArgument,
    by: Annotated[str, typer.Option("--by", help="Who signs: your name, as the report is to show it.")],
    why: Annotated[str, typer.Option("--why", help="A remark for the audit log.")] = "looked at and signed off",
    config: ConfigOption = None,
) -> None:
    """Sign off the result that is filed: its report becomes final, in the record too. No number changes."""
    from gateway import amending
    from gateway.service.parts import tools_from
    from gateway.service.storing import opened_store

    named = (said(by, "--by"), said(why, "--why"))
    settings, mappings = settings_from(config)
    tools = tools_from(settings, mappings)
    with opened_store(settings) as store:
        decided = done(amending.sign_off(store, tools, one(store.find(recording)), *named, datetime.now(UTC)))
    typer.echo(f"signed off {decided.recording_id[:8]}: the service brings it into every record; see `status`")


def _possible(found: "Anew | Hold | NotPossible") -> "Anew":
    from gateway.model import Hold
    from gateway.store import NotPossible

    if isinstance(found, NotPossible):
        typer.echo(found.why, err=True)
        raise typer.Exit(ExitCode.WRONG_USE)
    if isinstance(found, Hold):
        typer.echo(f"By the rules of now it would be held: {found.sentence} What to do: {found.action}", err=True)
        typer.echo("What is filed stays as it is; if it is wrong, take it back with `retract`.", err=True)
        raise typer.Exit(ExitCode.ATTENTION)
    return found


def _show(anew: "Anew") -> None:
    from gateway.correcting import told_of

    for line in anew.changes.lines:
        typer.echo(line)
    for sent in anew.sent:
        typer.echo(told_of(anew.standing, sent))
    if not anew.sent:
        typer.echo("Nothing differs from what is filed.")

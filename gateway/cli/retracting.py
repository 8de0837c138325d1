"""`retract`: a named person takes back what was filed."""

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from gateway.cli.options import (
    ByOption,
    ConfigOption,
    ExitCode,
    JsonOption,
    WhyOption,
    done,
    example,
    one,
    print_json,
    said,
    settings_from,
    settings_only,
)

THE_DEED = "recording"

HELP = """Take a filed recording back, wherever it was filed: `retract RECORDING --why … --by …`.

Everything of it becomes entered in error, a notice replaces the report, nothing is deleted. What was not sent yet is
cancelled. A notice for the clinicians of both persons lies among the held files until somebody acknowledges it.
To file it again, once it is finished: `held release RECORDING` for the same person after a wrong withdrawal,
`held release RECORDING --number N --birth-date D` for the right one.
"""


class _WithDeed(TyperGroup):
    """`retract NUMBER` means `retract recording NUMBER`."""

    def parse_args(self, ctx: Any, args: list[str]) -> Sequence[str]:  # type: ignore[override]
        """Put the command in that is meant when none is named."""
        if args and "--help" not in args and not set(args) & set(self.commands):
            args = [THE_DEED, *args]
        return super().parse_args(ctx, args)


app = typer.Typer(cls=_WithDeed, help=HELP, no_args_is_help=True, rich_markup_mode=None)

RecordingArgument = Annotated[
    str, typer.Argument(help="The recording's number; its first letters are enough.", show_default=False)
]


@app.command(THE_DEED, **example('bp-gateway retract 3f2a9c1e --why "filed for the wrong person" --by "A. Nurse"'))
def recording_(recording: RecordingArgument, by: ByOption, why: WhyOption, config: ConfigOption = None) -> None:
    """Take it back (the word `recording` may be left out)."""
    from gateway import amending
    from gateway.service.parts import tools_from
    from gateway.service.storing import opened_store

    settings, mappings = settings_from(config)
    named = (said(by, "--by"), said(why, "--why"))
    tools = tools_from(settings, mappings)
    with opened_store(settings) as store:
        decided = amending.retract(store, tools, one(store.find(recording)), *named, datetime.now(UTC))
        story = store.story(done(decided).recording_id)
    if story.withdrawals:
        typer.echo(f"withdrawing {story.recording_id[:8]}: the service takes it out of every record; see `status`")
    else:
        typer.echo(f"cancelled {story.recording_id[:8]}: nothing of it had been filed; the original file is kept")


@app.command(**example('bp-gateway retract acknowledge 3f2a9c1e --by "Dr A. Example"'))
def acknowledge(recording: RecordingArgument, by: ByOption, config: ConfigOption = None) -> None:
    """Record that the clinicians of both persons know of the withdrawal."""
    from gateway.service.storing import opened_store

    with opened_store(settings_only(config)) as store:
        decided = store.acknowledge(one(store.find(recording)), said(by, "--by"), datetime.now(UTC))
        recording_id = done(decided).recording_id
    typer.echo(f"acknowledged {recording_id[:8]}; it is kept in the audit log")


@app.command(**example("bp-gateway retract notice 3f2a9c1e"))
def notice(recording: RecordingArgument, config: ConfigOption = None) -> None:
    """Print the notice for the clinicians: where it could be seen, from when to when, and where it is now."""
    from gateway.service.notices import notice_of
    from gateway.service.standing import far_lines, how_far
    from gateway.service.storing import opened_store

    with opened_store(settings_only(config)) as store:
        story = store.story(one(store.find(recording)))
        far = how_far(store, story)
    if not story.withdrawals:
        typer.echo("This recording was not withdrawn, so there is no notice of it.", err=True)
        raise typer.Exit(ExitCode.WRONG_USE)
    typer.echo(notice_of(story), nl=False)
    for line in far_lines(far):
        typer.echo(line)


@app.command("list", **example("bp-gateway retract list"))
def list_(config: ConfigOption = None, as_json: JsonOption = False) -> None:
    """List withdrawals that are not finished (what is withdrawn, what not), or whose notice nobody acknowledged."""
    from gateway.service.standing import far_lines, how_far
    from gateway.service.storing import opened_store

    with opened_store(settings_only(config)) as store:
        stories = [store.story(recording_id) for recording_id in store.open_withdrawals()]
        far = {story.recording_id: how_far(store, story) for story in stories}
    if as_json:
        print_json(
            [
                {"recording": each.recording_id, "withdrawals": each.withdrawals, "records": far[each.recording_id]}
                for each in stories
            ]
        )
    for story in () if as_json else stories:
        state = "finished, notice not acknowledged" if story.withdrawals[-1].finished else "NOT FINISHED"
        typer.echo(f"{story.recording_id[:8]}  {story.withdrawals[-1].at:%Y-%m-%d %H:%M}  {story.name}: {state}")
        for line in far_lines(far[story.recording_id]):
            typer.echo(f"  {line}")
    if not stories and not as_json:
        typer.echo("No withdrawal is open.")
    if stories:
        raise typer.Exit(ExitCode.ATTENTION)

"""`check` and `status`: is everything as it should be, and what happened to a recording."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from gateway.cli.options import (
    ConfigOption,
    ExitCode,
    JsonOption,
    example,
    one,
    print_json,
    settings_from,
    settings_only,
)


def add_to(app: typer.Typer) -> None:
    """Put these commands into the command line."""
    app.command(**example("bp-gateway check --config gateway.toml"))(check)
    app.command(**example("bp-gateway status --config gateway.toml"))(status)


def check(config: ConfigOption = None, as_json: JsonOption = False) -> None:
    """Check settings, folders, mappings, clock and every record server; say what to mend."""
    from gateway.service.checking import checked

    settings, mappings = settings_from(config)
    results = checked(settings, mappings)
    if as_json:
        print_json(results)
    else:
        for result in results:
            typer.echo(f"{'ok  ' if result.good else 'MEND'}  {result.what}: {result.said}")
    if any(result.unreachable for result in results):
        raise typer.Exit(ExitCode.UNREACHABLE)
    if not all(result.good for result in results):
        raise typer.Exit(ExitCode.WRONG_USE)


def status(
    recording: Annotated[
        str | None,
        typer.Argument(help="A recording's number (first letters are enough): tell its story.", show_default=False),
    ] = None,
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Count recordings by state, or tell one recording's story in plain words."""
    if recording is None:
        _overview(config, as_json)
    else:
        _story(recording, config, as_json)


def _overview(config: Path | None, as_json: bool) -> None:
    from gateway.cli.stories import node_facts, overview_lines
    from gateway.model import Shown
    from gateway.service.checking import folders_now
    from gateway.service.storing import opened_store
    from gateway.service.troubles import ALARM, FAULTS

    settings = settings_only(config)
    troubles = [each for each in folders_now(settings) if not each.good]
    for each in () if as_json else troubles:  # first, as the store itself may be what cannot be used
        typer.echo(f"MEND  {each.what}: {each.said}")
    with opened_store(settings) as store:
        overview, health, nodes = store.overview(datetime.now(UTC)), store.health(), store.nodes()
        circuits = store.circuits()
    if as_json:
        seen = [node_facts(node) for node in nodes]
        facts = {"overview": overview, "health": health, "circuits": circuits, "nodes": seen, "troubles": troubles}
        print_json(facts)
    else:
        for line in overview_lines(overview, health, circuits, nodes):
            typer.echo(line)
    faults = any(name.startswith(FAULTS) and ALARM in part.detail for name, part in health.items())
    if overview.recordings.get(Shown.HELD) or troubles or faults:
        raise typer.Exit(ExitCode.ATTENTION)


def _story(recording: str, config: Path | None, as_json: bool) -> None:
    from dataclasses import asdict

    from gateway.cli.stories import comparison_of, story_lines
    from gateway.service.standing import far_lines, how_far
    from gateway.service.storing import opened_store

    with opened_store(settings_only(config)) as store:
        story = store.story(one(store.find(recording)))
        facts, far = store.facts(story.recording_id), how_far(store, story)
    comparison = comparison_of(facts)
    if as_json:
        print_json({**asdict(story), "comparison": comparison})
    else:
        for line in (*story_lines(story, comparison), *far_lines(far)):
            typer.echo(line)

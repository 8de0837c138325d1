"""`held`: what waits for a person, and the person's decision."""

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

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
    settings_only,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from gateway.model import Person
    from gateway.store import Decided, HeldItem, NotPossible, Store

    Decision = Callable[[Store, str, str, str, datetime], Decided | NotPossible]

app = typer.Typer(help="What waits for a person, and the person's decision.", no_args_is_help=True)

TargetArgument = Annotated[
    str, typer.Argument(help="The number that `held list` shows; its first letters are enough.", show_default=False)
]


@app.command("list", **example("bp-gateway held list --config gateway.toml"))
def list_(config: ConfigOption = None, as_json: JsonOption = False) -> None:
    """List everything that waits for a person, oldest first, with what to do."""
    items = _items(config)
    if as_json:
        print_json([_plain(item) for item in items])
    elif not items:
        typer.echo("Nothing is held.")
    else:
        for item in items:
            where = f" for {item.destination}" if item.destination else ""
            typer.echo(f"{item.id[:8]}  {item.since:%Y-%m-%d %H:%M}  {item.name}{where}")
            typer.echo(f"    {item.sentence}\n    What to do: {item.action}")
    if items:
        raise typer.Exit(ExitCode.ATTENTION)


@app.command(**example("bp-gateway held show 3f2a9c1e --config gateway.toml"))
def show(target: TargetArgument, config: ConfigOption = None, as_json: JsonOption = False) -> None:
    """Show one held item: what was found, beside what it differs from, what the record said, and what to do."""
    item, compared = _one(config, target)
    if as_json:
        print_json(_plain(item))
        return
    typer.echo(f"{item.kind} {item.id}\nfile: {item.name}\nheld since: {item.since:%Y-%m-%d %H:%M} UTC")
    if item.destination:
        typer.echo(f"destination: {item.destination}")
    typer.echo(f"reason: {item.reason}\n{item.sentence}\nWhat to do: {item.action}")
    if item.answer:
        typer.echo(f"the record's answer: {item.answer}")
    for line in (*compared, *(f"- {line}" for line in _findings(item))):
        typer.echo(line)


NumberOption = Annotated[
    str,
    typer.Option("--number", help="Whose it is, where the file names the wrong person.", show_default=False),
]
SystemOption = Annotated[
    str, typer.Option("--system", help="System of --number; else the site's.", show_default=False)
]
BornOption = Annotated[
    datetime | None,
    typer.Option(
        "--birth-date",
        formats=["%Y-%m-%d"],
        help="With --number: it is another person, of this birth date; what the file says of the person is not used.",
        show_default=False,
    ),
]


@app.command(**example('bp-gateway held release 3f2a9c1e --by "A. Nurse" --why "monitor was worn late"'))
def release(
    target: TargetArgument,
    by: ByOption,
    why: WhyOption,
    number: NumberOption = "",
    system: SystemOption = "",
    birth_date: BornOption = None,
    config: ConfigOption = None,
) -> None:
    """Let it go on, or take a refusal back: everything is checked again, only the rule that held it is waived.

    With --number it goes on as that person's: everything is checked again and nothing is waived. A number that was
    only mistyped needs no birth date. Both numbers are kept.
    """
    from gateway import pipeline

    if number:
        given = _given(number, system, birth_date, config)

        def rename(store: "Store", held: str, by: str, why: str, now: datetime) -> "Decided | NotPossible":
            return pipeline.rename(store, held, given, by, why, now)

        decided = _decide(rename, target, by, why, config, refused=True)
        typer.echo(f"released {decided.recording_id[:8]} with the corrected number; everything is checked again")
        return
    if system or birth_date:
        raise typer.BadParameter("goes with --number only", param_hint="--system" if system else "--birth-date")
    decided = _decide(pipeline.release, target, by, why, config, refused=True)
    waived = f"the rule '{decided.waived}' is waived for it" if decided.waived else "it is simply tried again"
    typer.echo(f"released {decided.recording_id[:8]}: {waived}; the service takes it up")


@app.command(**example('bp-gateway held refuse 3f2a9c1e --by "A. Nurse" --why "wrong file"'))
def refuse(target: TargetArgument, by: ByOption, why: WhyOption, config: ConfigOption = None) -> None:
    """Decide that it is not to be filed. The original file is kept."""
    from gateway import pipeline

    decided = _decide(pipeline.refuse, target, by, why, config)
    typer.echo(f"refused {decided.recording_id[:8]}; the original file is kept")


def _decide(
    decision: "Decision", target: str, by: str, why: str, config: Path | None, *, refused: bool = False
) -> "Decided":
    from gateway.service.storing import opened_store

    named = (said(by, "--by"), said(why, "--why"))
    with opened_store(settings_only(config)) as store:
        decided = decision(store, one(store.find_held(target, refused=refused)), *named, datetime.now(UTC))
    return done(decided)


def _given(number: str, system: str, born: datetime | None, config: Path | None) -> "Person":
    """Who a named person says it is. A number that cannot be is refused here, before anything changes."""
    from gateway.model import Identifier, Person
    from gateway.validate import canonical
    from gateway.validate.number import possible

    settings = settings_only(config)
    systems = settings.identifiers.systems
    found = canonical(Identifier(system or settings.site.identifier_system or next(iter(systems)), number), systems)
    if found.system not in systems:
        raise typer.BadParameter("not one of identifiers.systems in the settings", param_hint="--system")
    if not possible(found, systems):
        raise typer.BadParameter("form or check digit of this number are wrong", param_hint="--number")
    return Person(identifier=found, birth_date=born.date() if born else None)


def _items(config: Path | None) -> "tuple[HeldItem, ...]":
    from gateway.service.storing import opened_store

    with opened_store(settings_only(config)) as store:
        return store.held()


def _one(config: Path | None, target: str) -> "tuple[HeldItem, list[str]]":
    from gateway.cli.besides import compared
    from gateway.service.storing import opened_store

    with opened_store(settings_only(config)) as store:
        found = one(store.find_held(target))
        item = next(item for item in store.held() if item.id == found)
        return item, compared(store, item)


def _plain(item: "HeldItem") -> dict[str, object]:
    return {
        "kind": item.kind,
        "id": item.id,
        "recording": item.recording_id,
        "file": item.name,
        "destination": item.destination,
        "reason": item.reason,
        "sentence": item.sentence,
        "action": item.action,
        "since": item.since.isoformat(),
        "answer": item.answer,
    }


def _findings(item: "HeldItem") -> list[str]:
    import json

    facts = json.loads(item.facts) if item.facts else {}
    return [f"{finding['severity']}: {finding['sentence']}" for finding in facts.get("findings", [])]

"""`mapping`: how a map reads a file, a proposed map for an unknown file, the JSON Schema of maps."""

import os
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gateway.cli.options import (
    ConfigOption,
    ExitCode,
    JsonOption,
    apart_from_output,
    content_of,
    example,
    print_json,
)

if TYPE_CHECKING:
    from gateway.drafting import Draft, NoDraft
    from gateway.intake import Tools
    from gateway.mapping.source import SourceMap

MOST_MAP_BYTES = 1024 * 1024
FileArgument = Annotated[Path, typer.Argument(help="The exported file.", show_default=False)]

app = typer.Typer(
    help="Source maps: try one on a file, draft one for an unknown file, print their JSON Schema.",
    no_args_is_help=True,
)


@app.command("try", **example("bp-gateway mapping try export.csv --map our-monitor.toml --timezone Europe/London"))
def try_(
    file: FileArgument,
    source: Annotated[
        str, typer.Option("--map", help="Id of a known map, or the path of a TOML file; a draft may be tried too.")
    ],
    config: ConfigOption = None,
    as_json: JsonOption = False,
    timezone: Annotated[
        str | None, typer.Option("--timezone", help="Zone of the readings where the file is silent (IANA name).")
    ] = None,
    identifier_system: Annotated[
        str | None,
        typer.Option("--identifier-system", help="System (URI) of the person's number where the file is silent."),
    ] = None,
) -> None:
    """Show row by row what a map reads from a file, what it ignores and every doubt, and what validation says.

    Nothing is stored or sent. Exit codes: 0 would go on; 1 would be held; 2 wrong use, or a fault in the map.
    """
    from dataclasses import replace

    from gateway.cli.trying import facts_of_trial, show
    from gateway.service.previewing import preview_tools

    tools = preview_tools(config, os.environ, timezone=timezone, guideline=None)
    if identifier_system is not None:
        tools = replace(tools, defaults=replace(tools.defaults, identifier_system=identifier_system))
    chosen = _chosen(source, tools)
    content = content_of(file, tools.defaults.most_bytes)
    with apart_from_output():
        facts = facts_of_trial(content, file.name, chosen, tools, datetime.now(UTC))
    if as_json:
        print_json(facts)
    else:
        show(facts)
    if facts.hold is not None:
        raise typer.Exit(ExitCode.ATTENTION)


@app.command(**example("bp-gateway mapping draft export.csv --to our-monitor.toml"))
def draft(
    file: FileArgument,
    to: Annotated[Path | None, typer.Option("--to", help="Write the draft here; an existing file is kept.")] = None,
    as_json: JsonOption = False,
) -> None:
    """Propose a map for an unknown text, workbook, XML or JSON; every guess is marked CONFIRM, with evidence.

    A draft reads nothing but in `mapping try`, until a person removes `draft = true`.
    Exit codes: 0 drafted; 1 nothing can be proposed; 2 wrong use.
    """
    from gateway.drafting import NoDraft

    proposed = _proposed(file)
    if as_json:
        print_json({"sentence": proposed.sentence} if isinstance(proposed, NoDraft) else proposed)
    if isinstance(proposed, NoDraft):
        typer.echo(proposed.sentence, err=True)
        raise typer.Exit(ExitCode.ATTENTION)
    if to is not None:
        _write(proposed, to)
    elif not as_json:
        typer.echo(proposed.text, nl=False)
    _say_what_is_open(proposed, file, to)


@app.command(**example("bp-gateway mapping schema > source-map.schema.json"))
def schema() -> None:
    """Print the JSON Schema of a source map, for editors that complete and check TOML."""
    from gateway.mapping.schema import source_schema

    print_json(source_schema())


def _proposed(file: Path) -> "Draft | NoDraft":
    from gateway import drafting
    from gateway.mapping.parse import parse
    from gateway.mapping.site import SiteDefaults

    words_file = Path(drafting.__file__).with_name("words.toml")
    words = parse(words_file.read_bytes(), drafting.Words, words_file.name)
    most = SiteDefaults().most_bytes
    content = content_of(file, most)
    if len(content) > most:
        return drafting.NoDraft("The file is far larger than a recording can be.")
    with apart_from_output():
        return drafting.propose(content, words, datetime.now(UTC), file.name)


def _write(proposed: "Draft", to: Path) -> None:
    try:
        with to.open("x", encoding="utf-8") as opened:
            opened.write(proposed.text)
    except FileExistsError:
        typer.echo(f"{to}: is there already; name another file", err=True)
        raise typer.Exit(ExitCode.WRONG_USE) from None
    except OSError as error:
        typer.echo(f"{to}: cannot be written ({error.strerror})", err=True)
        raise typer.Exit(ExitCode.WRONG_USE) from None


def _say_what_is_open(proposed: "Draft", file: Path, to: Path | None) -> None:
    guessed = sum(bool(each.evidence) for each in proposed.guesses)
    typer.echo(f"{guessed} lines to confirm, {len(proposed.questions)} of them open questions:", err=True)
    for guess in proposed.guesses:
        if not guess.proven:
            typer.echo(f"- {guess.key}: {guess.evidence}", err=True)
    if to is not None:
        typer.echo(f"written to {to}; next: bp-gateway mapping try {file} --map {to}", err=True)


def _chosen(named: str, tools: "Tools") -> "SourceMap":
    """The map that was meant. A path wins over an id: an id never holds a dot or a slash."""
    from gateway.mapping.parse import parse
    from gateway.mapping.source import SourceMap
    from gateway.settings.chosen import nearest

    known = {each.name: each for each in tools.sources}
    if named in known:
        return known[named]
    path = Path(named)
    if path.suffix == ".toml" or path.is_file():
        return parse(content_of(path, MOST_MAP_BYTES), SourceMap, str(path))
    typer.echo(f"--map {named}: no map has this id, and no file this name{nearest(named, known)}", err=True)
    raise typer.Exit(ExitCode.WRONG_USE)

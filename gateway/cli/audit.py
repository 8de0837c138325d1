"""`audit`: prove the log whole, or hand it over."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gateway.cli.options import ConfigOption, ExitCode, JsonOption, example, print_json, settings_only

if TYPE_CHECKING:
    from gateway.audit import Entry

app = typer.Typer(help="Prove the audit log whole, or hand it over.", no_args_is_help=True)


@app.command(**example("bp-gateway audit verify --config gateway.toml"))
def verify(
    config: ConfigOption = None,
    heads: Annotated[
        Path | None,
        typer.Option("--heads", help="Signed heads kept outside the store; default: the file in the settings."),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Check every link of the audit log, and its end against the signed heads outside the store."""
    from gateway.service.sealing import Sealing, signing_key
    from gateway.service.storing import opened_store

    settings = settings_only(config)
    sealing = Sealing(key=signing_key(settings.folders.state), outside=settings.audit.heads_file)
    with opened_store(settings) as store:
        verification = sealing.verification(store, heads)
    if as_json:
        print_json(verification)
    else:
        typer.echo(verification.sentence)
        for broken in verification.faults:
            typer.echo(f"- {broken.sentence}")
    if not verification.whole:
        raise typer.Exit(ExitCode.ATTENTION)


@app.command(**example("bp-gateway audit export --config gateway.toml --to audit.jsonl"))
def export(
    to: Annotated[Path, typer.Option("--to", help="File to write, one JSON object a line.")],
    config: ConfigOption = None,
) -> None:
    """Write the whole audit log, one JSON object a line; identifiers only, no names, no values."""
    from gateway.service.storing import opened_store

    with opened_store(settings_only(config)) as store, to.open("xb") as out:
        count = 0
        for entry in store.audit_entries():
            out.write(_line(entry) + b"\n")
            count += 1
    typer.echo(f"{count} entries written to {to}")


def _line(entry: "Entry") -> bytes:
    """One entry with salt and detail as they went into its commitment, so that anybody can check the chain."""
    import orjson

    plain = {name: getattr(entry, name) for name in ("seq", "at", "kind", "actor", "recording")}
    links = {name: getattr(entry, name) for name in ("commitment", "previous", "hash")}
    detail = None if entry.detail is None else orjson.Fragment(entry.detail)
    salt = None if entry.salt is None else entry.salt.hex()
    return orjson.dumps(plain | links | {"salt": salt, "detail": detail})

"""`guideline`: which published limits are available, with their source and how sure each number is."""

from typing import Annotated

import typer

from gateway.cli.options import ConfigOption, JsonOption, example, print_json

app = typer.Typer(help="Published limits: which there are, and where each number comes from.", no_args_is_help=True)


def _mappings(config: object) -> object:
    import os

    from gateway.settings.maps import load as load_mappings

    if config is None and "BP_GATEWAY_CONFIG" not in os.environ:
        return load_mappings(None)
    from gateway.cli.options import settings_from

    return settings_from(config)[1]  # type: ignore[arg-type]


@app.command("list", **example("bp-gateway guideline list"))
def list_(config: ConfigOption = None, as_json: JsonOption = False) -> None:
    """List the guidelines with context, edition and whether their deciding numbers are verified."""
    guidelines = sorted(_mappings(config).guidelines.values(), key=lambda each: each.id)  # type: ignore[attr-defined]
    if as_json:
        print_json([guideline.model_dump(mode="json") for guideline in guidelines])
        return
    for guideline in guidelines:
        standing = "verified" if not guideline.unverified else f"not verified: {', '.join(guideline.unverified)}"
        newer = f"; superseded by {guideline.superseded_by}" if guideline.superseded_by else ""
        typer.echo(f"{guideline.id:16} {guideline.context}, {guideline.title} ({standing}{newer})")


@app.command(**example("bp-gateway guideline show esc-2024"))
def show(
    name: Annotated[str, typer.Argument(help="The guideline's id, as `guideline list` prints it.")],
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show every limit of one guideline with its citation and mark (verified, secondary, memory)."""
    guidelines = _mappings(config).guidelines  # type: ignore[attr-defined]
    guideline = guidelines.get(name)
    if guideline is None:
        raise typer.BadParameter(f"known: {', '.join(sorted(guidelines))}", param_hint="NAME")
    if as_json:
        print_json(guideline.model_dump(mode="json"))
        return
    from gateway.cli.published import guideline_lines

    for line in guideline_lines(guideline):
        typer.echo(line)

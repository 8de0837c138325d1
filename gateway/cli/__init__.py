"""The command `bp-gateway`: arguments and printing only.

Heavy parts are imported inside the commands, so that `--help` stays quick.
"""

import sys
from importlib.metadata import version

import typer

from gateway.cli import (
    audit,
    deciding,
    expecting,
    exporting,
    guidelines,
    looking,
    mapping,
    moving,
    preview,
    reconciling,
    renewing,
    retracting,
    working,
)
from gateway.errors import GatewayError, StoreUnavailable

OVERVIEW = """Files 24-hour ambulatory blood-pressure recordings in the electronic record.

Watches a folder for exported recordings, checks and analyses them against a published guideline, and files
readings, summary and report as FHIR R4. What is doubtful is held with a reason.

Exit codes: 0 all well; 1 something is held or rejected, or the audit log is broken; 2 wrong use or settings;
3 a record server or the store cannot be reached now (the work is kept).
"""

app = typer.Typer(
    name="bp-gateway",
    help=OVERVIEW,
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
working.add_to(app)
preview.add_to(app)
looking.add_to(app)
exporting.add_to(app)
reconciling.add_to(app)
renewing.add_to(app)
app.add_typer(deciding.app, name="held")
app.add_typer(retracting.app, name="retract")
app.add_typer(expecting.app, name="expect")
app.add_typer(guidelines.app, name="guideline")
app.add_typer(mapping.app, name="mapping")
app.add_typer(audit.app, name="audit")
app.add_typer(moving.app, name="store")


def _show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"bp-gateway {version('ambulatory-bp-gateway')}")
        raise typer.Exit


@app.callback()
def _common(
    show_version: bool = typer.Option(
        False, "--version", callback=_show_version, is_eager=True, help="Print the version and stop."
    ),
) -> None:
    pass


def main() -> None:
    """Run the command line; problems that a person can mend are printed as words, not as a traceback."""
    try:
        app()
    except GatewayError as error:
        for line in str(error).splitlines():
            typer.echo(line, err=True)
        sys.exit(3 if isinstance(error, StoreUnavailable) else 2)
    except OSError as error:
        typer.echo(f"{error.filename or 'a file'}: {error.strerror or type(error).__name__}", err=True)
        sys.exit(2)

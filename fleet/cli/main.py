"""The `fleet` command: one Typer application, its commands in one file for each group.

Only the standard library, typer and fleet.errors are imported here and in the command files; everything else is
imported inside the command that needs it, so that help and completion answer at once.
"""

from __future__ import annotations

import os
import sys
from typing import Any

import typer
from typer.core import TyperGroup

from fleet.errors import FleetError

INTERNAL_FAULT = 70
"""The exit code of sysexits.h for a fault in the program itself."""


class FleetGroup(TyperGroup):
    """Turns every error into one message on stderr and its exit code."""

    def invoke(self, ctx: Any) -> Any:
        try:
            return super().invoke(ctx)
        except FleetError as error:
            typer.echo(f"fleet: {error}", err=True)
            raise typer.Exit(error.exit_code) from error
        except KeyboardInterrupt as error:
            typer.echo("fleet: stopped; nothing half-done was kept", err=True)
            raise typer.Exit(130) from error
        except BrokenPipeError:
            # The reader (head, less) has seen enough; keep the interpreter from complaining at its end.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            raise typer.Exit(0) from None
        except (typer.Exit, typer.Abort):
            raise
        except Exception as error:
            if _is_usage_error(error) or os.environ.get("FLEET_DEBUG"):
                raise
            typer.echo(
                f"fleet: this should not happen: {type(error).__name__}: {error}\n"
                "       nothing half-done was kept; run again with FLEET_DEBUG=1 for the details a developer needs",
                err=True,
            )
            raise typer.Exit(INTERNAL_FAULT) from error


def _is_usage_error(error: Exception) -> bool:
    """typer carries its own copy of click, whose exceptions know how to show themselves."""
    return hasattr(error, "exit_code") and hasattr(error, "show")


app = typer.Typer(
    cls=FleetGroup,
    help="Plans the cooling and the upkeep of many aquarium tanks.",
    epilog="Begin with `fleet demo`, `fleet start home` or `fleet import PATH`. Every command has --help.",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _add_commands() -> None:
    from fleet.cli import advise, change, demo, heat, outage, plan, publish, records, register, serve, start, store

    for group in (demo, start, register, change, heat, advise, outage, plan, records, publish, serve, store):
        group.add_to(app)


_add_commands()


def run() -> None:
    """Runs the command line."""
    app()

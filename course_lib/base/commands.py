"""How a command answers a mistake of its user."""

from __future__ import annotations

from typing import Any

import click


class Verb(click.Command):
    """A verb of a command. What its user got wrong is one line on the error stream and exit code 2, never a traceback."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run it."""
        try:
            return super().invoke(ctx)
        except (click.exceptions.Exit, click.Abort):  # click's own, and both are RuntimeErrors
            raise
        except (OSError, ValueError, RuntimeError) as error:
            click.echo(f"{ctx.command_path}: {error}", err=True)
            ctx.exit(2)

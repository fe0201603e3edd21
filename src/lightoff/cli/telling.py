"""How the command line tells what went wrong: sentences on standard error, and never a traceback."""

from __future__ import annotations

import gc
import os
import sys
from typing import Any

import click

from lightoff.ground.errors import LightoffError, Refusals

ERROR = 1
_SELDOM = (50_000, 20, 100)


class Told(click.Group):
    """A group of commands whose errors are sentences; LIGHTOFF_TRACEBACK=1 shows where they arose."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; what it raises is told, and the program ends with 1."""
        # Next to nothing of what a command makes is garbage: looking for some takes a tenth of a short one.
        gc.set_threshold(*_SELDOM)
        try:
            answer = super().invoke(ctx)
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except LightoffError as error:
            tell(error)
        except BrokenPipeError:
            # Whoever read us has enough; nothing may be written to the pipe at the end either.
            sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115 lives as long as we do
        except Exception as error:
            if os.environ.get("LIGHTOFF_TRACEBACK"):
                raise
            _tell_unexpected(error)
        else:
            return answer
        return ctx.exit(ERROR)


def tell(error: LightoffError) -> None:
    """The sentences of an error, each on a line of its own."""
    from lightoff.texts import Speaker

    speaker = Speaker()
    faults = error.refusals if isinstance(error, Refusals) else (error,)
    if len(faults) > 1:
        say(speaker.text("cli.faults", count=len(faults)))
    for fault in faults:
        say(("  " if len(faults) > 1 else "") + speaker.say(fault.message))


def say(text: str) -> None:
    """A line on standard error."""
    click.echo(printable(text, sys.stderr), err=True)


def printable(text: str, stream: Any) -> str:
    """The text as this stream can show it: a sign it lacks becomes a question mark and never an error."""
    encoding = getattr(stream, "encoding", None) or "utf-8"
    return text.encode(encoding, errors="replace").decode(encoding, errors="replace")


def _tell_unexpected(error: Exception) -> None:
    kind, reason = type(error).__name__, " ".join(str(error).split())[:300]
    try:
        from lightoff.texts import Speaker

        say(Speaker().text("cli.unexpected", kind=kind, reason=reason))
    except Exception:  # noqa: BLE001 - an installation whose very words are broken still ends in a sentence
        say(f"lightoff is not whole ({kind}: {reason}). Install it again; nothing that was kept is lost.")

"""The command line: read, convert, call one job, show."""

from lightoff.cli.commands import main

__all__ = ["main"]

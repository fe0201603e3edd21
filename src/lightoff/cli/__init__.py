"""The command line: read, convert, call one job, show."""

import os

# Extensions of the parser of visit files that others have put beside us are none of ours, and looking for
# them takes a twenty-fifth of a cold start.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

from lightoff.cli.commands import main

__all__ = ["main"]

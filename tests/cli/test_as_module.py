"""Started as a module, it is the same command."""

from __future__ import annotations

import subprocess
import sys


def test_python_dash_m_is_the_command() -> None:
    told = subprocess.run(
        [sys.executable, "-m", "lightoff", "--help"], capture_output=True, text=True, check=False
    )
    assert told.returncode == 0, told.stderr
    assert told.stdout.startswith("Usage: lightoff [OPTIONS] COMMAND")

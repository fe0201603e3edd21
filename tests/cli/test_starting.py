"""A command loads what it needs, and no more."""

from __future__ import annotations

import subprocess
import sys


def test_what_a_judgement_does_not_need_is_not_loaded() -> None:
    told = subprocess.run(
        [sys.executable, "-c", "import sys, lightoff.cli.assessing; print(*sys.modules)"],
        capture_output=True,
        text=True,
        check=True,
    ).stdout.split()
    assert "lightoff.judging.assess" in told
    assert not {"sqlalchemy", "starlette", "typst", "PIL", "lightoff.faultfinding"} & set(told)

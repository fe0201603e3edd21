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


def test_nothing_but_a_fit_loads_the_library_of_fits() -> None:
    """Every module of every floor at once: demo shop, pages and commands go without it."""
    walk = (
        "import pkgutil, sys, lightoff\n"
        "for each in pkgutil.walk_packages(lightoff.__path__, 'lightoff.'):\n"
        "    if 'migrations' not in each.name and not each.name.endswith('__main__'):\n"
        "        __import__(each.name)\n"
        "print(*sys.modules)"
    )
    told = subprocess.run(
        [sys.executable, "-c", walk], capture_output=True, text=True, check=True
    ).stdout.split()
    assert {"lightoff.wear.fitting", "lightoff.web.app", "lightoff.demo.shop"} <= set(told)
    assert not {"surpyval", "scipy", "autograd", "pandas", "matplotlib", "numdifftools"} & set(told)

"""From the start of a process to its first answer, with what Python and the framework take alone.

    python benchmarks/start.py [--runs 7]

`dev.py run` is measured where the tree is set up (a `.venv` that fits beside it). The demo shop is made
beforehand. Prints the median and the slowest of the runs, and the load of the machine when it began: on a
busy one the numbers say little.
"""

from __future__ import annotations

import argparse
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path

from lightoff.work.make_demo_shop import make_demo_shop

ROOT = Path(__file__).parent.parent
LIGHTOFF = str(Path(sys.executable).parent / "lightoff")


def to_the_end_s(command: Sequence[str]) -> float:
    """Seconds until the command has ended well."""
    start = time.perf_counter()
    subprocess.run(command, cwd=ROOT, stdout=subprocess.DEVNULL, check=False)
    return time.perf_counter() - start


def to_the_first_page_s(command: Sequence[str]) -> float:
    """Seconds until the list of heaters was read to its last byte."""
    start = time.perf_counter()
    server = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True)
    try:
        assert server.stdout is not None
        found = None
        while found is None:
            line = server.stdout.readline()
            if not line:
                raise SystemExit(f"{command[0]} ended before it answered")
            found = re.search(r"http://[\d.:]+", line)
        with urllib.request.urlopen(found[0] + "/") as answer:
            answer.read()
        return time.perf_counter() - start
    finally:
        server.terminate()
        server.wait()


def main() -> None:
    """Print a line for each kind of start."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--runs", type=int, default=7)
    runs = parser.parse_args().runs
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # code is compiled once, as after any first start
    print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
    with tempfile.TemporaryDirectory() as folder:
        shop = str(make_demo_shop(Path(folder) / "shop", datetime.now(tz=UTC)))
        python = [sys.executable, "-c"]
        kinds: dict[str, Callable[[], float]] = {
            "floor: python that loads numpy": lambda: to_the_end_s([*python, "import numpy"]),
            "floor: python that loads the web framework": lambda: to_the_end_s(
                [*python, "import jinja2, sqlalchemy, starlette.applications, uvicorn"]
            ),
            "lightoff assess": lambda: to_the_end_s([LIGHTOFF, "assess", "examples/with-probe.toml"]),
            "lightoff demo, first page": lambda: to_the_first_page_s(
                [LIGHTOFF, "demo", "--folder", shop, "--port", "0"]
            ),
        }
        if (ROOT / ".venv" / "stamp-run").is_file():
            run = ["python3", "dev.py", "run", "--folder", shop, "--port", "0"]
            kinds["dev.py run, first page"] = lambda: to_the_first_page_s(run)
        print("| seconds | median | slowest |")
        print("|---|---|---|")
        for name, take in kinds.items():
            take()  # files come from the disk once
            taken = [take() for _ in range(runs)]
            print(f"| {name} | {statistics.median(taken):.2f} | {max(taken):.2f} |", flush=True)


if __name__ == "__main__":
    main()

"""How long one owner's report takes: the first of a process, and the median of those after it."""

from __future__ import annotations

import statistics
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "report"))

import samples

from lightoff.report import owner_report
from lightoff.texts import Speaker

ROUNDS = 30


def main() -> None:
    """Print seconds for each kind of report."""
    shelf, speaker = samples.shelf(), Speaker()
    kinds = samples.samples()
    start = time.perf_counter()
    owner_report(*kinds["fit"], shelf=shelf, speaker=speaker, photos={})
    print(f"first of the process: {time.perf_counter() - start:.3f} s")
    for name, (case, assessment) in kinds.items():
        took = []
        for _ in range(ROUNDS):
            start = time.perf_counter()
            owner_report(case, assessment, shelf=shelf, speaker=speaker, photos={})
            took.append(time.perf_counter() - start)
        print(f"{name}: median {statistics.median(took):.3f} s, slowest {max(took):.3f} s of {ROUNDS}")


if __name__ == "__main__":
    main()

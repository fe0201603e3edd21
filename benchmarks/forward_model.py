"""The forward model: time for many rows of shifts, and the memory it takes beyond its answer."""

import resource
import time
import tracemalloc

import numpy as np

from lightoff.plant.conditions import Conditions
from lightoff.plant.model import Prediction, predict
from lightoff.plant.parameters import PARAMETERS, SPREADS
from lightoff.shelf import open_shelf

ROWS, TURNS = 160_000, 5


def main() -> None:
    """Print the table: best of some turns, processor time and wall clock."""
    shelf = open_shelf()
    sheet, diesel = shelf.sheets["generic_12_kw"], shelf.fuels["diesel_2"]
    here = Conditions(fuel=diesel, rated_fuel=diesel)
    rows = np.random.default_rng(1).normal(size=(ROWS, len(PARAMETERS))) * SPREADS
    print(f"{ROWS:,} rows of {len(PARAMETERS)} shifts, best of {TURNS}")
    print("| | processor time, s | wall clock, s | beyond the answer, MB |")
    print("|---|---|---|---|")
    for name, with_signs in (("numbers", False), ("numbers and signs", True)):
        best = (np.inf, np.inf)
        for _ in range(TURNS):
            processor, wall = _processor_s(), time.perf_counter()
            predict(sheet, here, rows, with_signs=with_signs)
            best = min(best, (_processor_s() - processor, time.perf_counter() - wall))
        tracemalloc.start()
        answer = predict(sheet, here, rows, with_signs=with_signs)
        beyond = tracemalloc.get_traced_memory()[1] - _size(answer)
        tracemalloc.stop()
        print(f"| {name} | {best[0]:.2f} | {best[1]:.2f} | {beyond / 1e6:.0f} |")


def _processor_s() -> float:
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


def _size(answer: Prediction) -> int:
    """Bytes of all that was predicted."""
    hidden = (name for name in Prediction.__dataclass_fields__ if name not in ("numeric", "chances"))
    arrays = (answer.numeric, *answer.chances.values(), *(getattr(answer, name) for name in hidden))
    return sum(each.nbytes for each in arrays)


if __name__ == "__main__":
    main()

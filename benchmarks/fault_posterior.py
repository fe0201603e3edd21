"""How near the posterior comes to the exact model, and how long it takes.

    python benchmarks/fault_posterior.py [--cases 200] [--draws 2000]

The judge is long importance sampling of the model itself, the engine's own observation model and priors
(`tests/faultfinding/judge.py`): total variation over nothing, all single faults, the sixty likeliest pairs
and what the catalogue lacks. How far the judge is from itself with other draws stands beside it.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from fault_cases import streets
from judge import apart, chances
from making import SHELF, bank_of, conditions, known_of
from world import cases, world

from lightoff.faultfinding import posterior
from lightoff.faultfinding.ranking import ranked

READINGS, ROUNDS = 25, 15


def judged(count: int, draws: int, seed: int) -> None:
    """Print total variations."""
    linear, sharp, itself, left_out, start = [], [], [], [], time.perf_counter()
    for street in streets(4, count // 4, seed=seed):
        for case in street.cases:
            told = known_of(case)
            sets, shares = chances(street.engine, told, count=draws, seed=1)
            _, again = chances(street.engine, told, count=draws, seed=5)
            found, both = posterior(street.engine, told), 0.5 * (shares + again)
            itself.append(0.5 * float(np.abs(shares - again).sum()))
            sharp.append(apart(found, sets, both))
            linear.append(apart(posterior(street.engine, told, sharp=False), sets, both))
            inside = dict(zip(found.sets, found.chances, strict=True))
            left_out.append(1.0 - float(sum(inside[each] for each in sets)))
        print(f"{street.name}: {len(sharp)} cases, {time.perf_counter() - start:.0f} s", flush=True)
    print("| total variation | median | mean | 90th percentile |\n|---|---|---|---|")
    rows = {
        "engine": sharp,
        "engine, linear model alone": linear,
        "judge against itself": itself,
        "chance of pairs not judged": left_out,
    }
    for name, values in rows.items():
        print(
            f"| {name} | {np.median(values):.3f} | {np.mean(values):.3f} | {np.quantile(values, 0.9):.3f} |"
        )


def timed(name: str, call: Callable[[], object]) -> None:
    """Print the best of many rounds, of the process."""
    best = np.inf
    for _ in range(ROUNDS):
        start = time.process_time()
        call()
        best = min(best, time.process_time() - start)
    print(f"| {name} | {1e3 * best:.0f} |", flush=True)


def speed() -> None:
    """Print times of one case with many readings known."""
    bank = bank_of("generic_9_kw", conditions())
    made = cases(
        200,
        seed=5,
        there=world(5, SHELF),
        shelf=SHELF,
        sheet=bank.sheet,
        conditions=bank.conditions,
        singles=1.0,
        doubles=0.0,
        known_share=0.3,
    )
    lit = [case for case in made if len(case.known) == READINGS]
    told = known_of(max(lit, key=lambda case: len(known_of(case).numbers)))
    classes = frozenset(SHELF.catalogue.classes)
    print(f"{len(told.numbers)} numbers and {len(told.states)} looks known; best of {ROUNDS}, of the process")
    print("| | ms |\n|---|---|")
    timed("from scratch: nothing and single faults", lambda: posterior(replace(bank), told, pairs=False))
    timed("from scratch: pairs of faults too", lambda: posterior(replace(bank), told))
    posterior(bank, told)
    timed("one reading more, without pairs", lambda: posterior(bank, told, pairs=False))
    timed("one reading more, with pairs", lambda: posterior(bank, told))
    found = posterior(bank, told)
    timed("ranking of all steps", lambda: ranked(bank, told, found, classes=classes))


def main() -> None:
    """Print both tables."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--cases", type=int, default=200)
    parser.add_argument("--draws", type=int, default=2_000)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    speed()
    if chosen.cases:
        judged(chosen.cases, chosen.draws, chosen.seed)


if __name__ == "__main__":
    main()

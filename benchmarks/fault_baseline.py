"""What a unit's own good visits are worth: the cause after three tests, with its baseline and without.

    python benchmarks/fault_baseline.py [--units 24] [--cases 20] [--visits 4] [--seed 1]

Each unit is a heater of its own in a world of its own; some good visits, with every number read, teach its
baseline. Then single faults befall it. Known are what the owner says, whether it lit and where the start
stopped; then three readings are taken, each time the one that is expected to leave the least entropy.
"""

from __future__ import annotations

import argparse
import time

import numpy as np
from fault_cases import PLACES
from making import SHELF, bank_of, evidence, known_of
from world import VARIES_MORE, MadeCase, cases, world

from lightoff.faultfinding import Bank, Evidence, Posterior, posterior
from lightoff.faultfinding.observed import read_spread
from lightoff.physics.normal import cumulative
from lightoff.plant.band import linearised
from lightoff.plant.baseline import Baseline, taught, unknown_unit
from lightoff.plant.conditions import Conditions
from lightoff.plant.parameters import PARAMETERS, SPREADS
from lightoff.plant.quantities import COLUMN, QUANTITIES, compared

TESTS, BANDS = 3, 6


def learned(sheet: str, here: Conditions, visits: list[MadeCase]) -> Baseline:
    """The baseline that good visits teach, as the shop's book does it."""
    baseline = unknown_unit()
    middle, slopes = linearised(SHELF.sheets[sheet], here, baseline)
    for visit in visits:
        keys = [key for key in QUANTITIES if key in visit.numbers]
        read = np.zeros(len(QUANTITIES))
        columns = [COLUMN[key] for key in keys]
        read[columns] = [visit.numbers[key] for key in keys]
        baseline = taught(
            baseline,
            jacobian=slopes[columns],
            residual=compared(read)[columns] - middle[columns],
            noise=np.array([QUANTITIES[key].slack for key in keys]),
        )
    return baseline


def known_exactly(own: np.ndarray) -> Baseline:
    """A baseline that no visits could better: the unit's own parameters, and no doubt of them."""
    lasting = np.array([each.persistent for each in PARAMETERS.values()])
    return Baseline(
        mean=np.where(lasting, own / SPREADS, 0.0), covariance=np.diag(np.where(lasting, 1e-6, 1.0))
    )


def most_telling(bank: Bank, told: Evidence, found: Posterior, possible: list[str]) -> str:
    """The reading that is expected to leave the least entropy over the sets."""
    left = {key: _entropy_left(bank, told, found, key) for key in possible}
    return min(left, key=lambda key: (left[key], key))


def _entropy_left(bank: Bank, told: Evidence, found: Posterior, key: str) -> float:
    chances, joint, used = found.chances[:-1], [], 0
    for part in found.weighed:
        weights = chances[used : used + len(part.sets), None] * part.cells
        used += len(part.sets)
        joint.append((part, weights))
    if key in QUANTITIES:
        outcomes = _bands(bank, told, joint, COLUMN[key], key)
    else:
        outcomes = np.concatenate(
            [
                np.einsum("hc,hcd,hcds->hs", weights, _draws(part, key), part.nodes.chances[key][part.kept])
                for part, weights in joint
            ]
        )
    mass = outcomes.sum(axis=0)
    shares = outcomes / np.maximum(mass, 1e-300)
    return float(-np.sum(mass * np.sum(shares * np.log(np.maximum(shares, 1e-300)), axis=0)))


def _draws(part, key: str) -> np.ndarray:  # type: ignore[no-untyped-def]
    shape = part.nodes.chances[key].shape[2]
    return part.draws if shape > 1 else part.draws.sum(axis=2, keepdims=True)


def _bands(bank: Bank, told: Evidence, joint: list, column: int, key: str) -> np.ndarray:  # type: ignore[type-arg]
    noise = read_spread(bank, key, told)
    means = np.concatenate([part.numbers[:, :, column].reshape(-1) for part, _ in joint])
    weights = np.concatenate([each.reshape(-1) for _, each in joint])
    order = np.argsort(means)
    cumulated = np.cumsum(weights[order])
    marks = (np.arange(BANDS - 1) + 1.0) / BANDS * cumulated[-1]
    edges = np.unique(np.interp(marks, cumulated, means[order]))
    rows = []
    for part, share in joint:
        spread = np.hypot(part.spreads[:, column], noise)[:, None, None]
        below = cumulative((edges - part.numbers[:, :, column, None]) / spread)
        ends = np.concatenate([np.zeros((*share.shape, 1)), below, np.ones((*share.shape, 1))], axis=2)
        rows.append(np.einsum("hc,hcb->hb", share, np.diff(ends, axis=2)))
    return np.concatenate(rows)


def after_tests(bank: Bank, case: MadeCase) -> list[bool]:
    """Whether the truth leads, before any test and after each."""
    (truth,) = case.truth
    known, right = list(case.known), []
    for test in range(TESTS + 1):
        told = known_of(case) if test == 0 else _told(case, known)
        found = posterior(bank, told)
        causes = {**found.faults(), "": found.sound}
        right.append(max(sorted(causes), key=lambda key: causes[key]) == truth)
        if test < TESTS:
            possible = [key for key in (*case.numbers, *case.states) if key not in known]
            known.append(most_telling(bank, told, found, possible))
    return right


def _told(case: MadeCase, known: list[str]) -> Evidence:
    return evidence(
        numbers={key: case.numbers[key] for key in known if key in case.numbers},
        states={key: case.states[key] for key in known if key in case.states},
    )


def main() -> None:
    """Print the share of causes that lead, before any test and after each."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--units", type=int, default=24)
    parser.add_argument("--cases", type=int, default=20)
    parser.add_argument("--visits", type=int, default=4)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    sheets, start = sorted(SHELF.sheets), time.perf_counter()
    plain, with_it, known = [], [], []
    for unit in range(chosen.units):
        sheet, here = sheets[unit % len(sheets)], PLACES[(unit + unit // len(sheets)) % len(PLACES)]
        there = world(chosen.seed + unit, SHELF)
        rng = np.random.default_rng([chosen.seed + unit, 3])
        own = rng.normal(size=len(PARAMETERS)) * SPREADS * VARIES_MORE
        made = {
            "there": there,
            "shelf": SHELF,
            "sheet": SHELF.sheets[sheet],
            "conditions": here,
            "unit_row": own,
        }
        good = cases(chosen.visits, seed=chosen.seed + unit, singles=0.0, doubles=0.0, **made)
        bad = cases(
            chosen.cases, seed=1_000 + chosen.seed + unit, singles=1.0, doubles=0.0, known_share=0.0, **made
        )
        baselines = None, learned(sheet, here, good), known_exactly(own)
        for told, baseline in zip((plain, with_it, known), baselines, strict=True):
            bank = bank_of(sheet, here, baseline=baseline)
            told += [after_tests(bank, case) for case in bad]
        one, other, best = (np.mean(each, axis=0) for each in (plain, with_it, known))
        print(
            f"{unit + 1} units, {time.perf_counter() - start:.0f} s: {one.round(3)} {other.round(3)} "
            f"{best.round(3)}",
            flush=True,
        )
    apart = np.array(with_it, dtype=float) - np.array(plain, dtype=float)
    error = apart.std(axis=0) / np.sqrt(len(apart))
    print(
        f"| tests | without | with its baseline | difference ({len(apart)} cases) | the unit known exactly |"
    )
    print("|---|---|---|---|---|")
    for test in range(TESTS + 1):
        print(
            f"| {test} | {100 * one[test]:.1f} % | {100 * other[test]:.1f} % | "
            f"{100 * apart.mean(axis=0)[test]:+.1f} ± {100 * error[test]:.1f} | {100 * best[test]:.1f} % |"
        )


if __name__ == "__main__":
    main()

"""What a unit's own good visits are worth: the cause after three tests, with its baseline and without.

    python benchmarks/fault_baseline.py [--units 24] [--cases 20] [--visits 4] [--seed 1] [--alone]

Each unit is a heater of its own in a world of its own; some good visits, with every number read, teach its
baseline. Then single faults befall it. Known are what the owner says, whether it lit and where the start
stopped; then three tests are made, each time the one that is expected to leave the least entropy, by the bank
as it is with the baseline that it has. A test is all that its instrument reads where it is by then, as the
search itself offers it (`--alone`: one reading a test). Beside it what no visits could better: the unit's own
parameters told; told to an oracle that knows the world's laws, faults, spreads and noise as well; and told
with the laws alone, which is all that good visits could ever teach: of faults they say nothing.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace

import numpy as np
from fault_cases import PLACES, oracle_of
from making import SHELF, bank_of, evidence, known_of
from world import VARIES_MORE, MadeCase, cases, living_in, world

from lightoff.faultfinding import Bank, Evidence, Posterior, posterior
from lightoff.faultfinding.cost import read_along
from lightoff.faultfinding.observed import read, read_spread
from lightoff.physics.normal import cumulative
from lightoff.plant.baseline import Baseline, unknown_unit
from lightoff.plant.conditions import Conditions
from lightoff.plant.good_visit import after_good_visit
from lightoff.plant.number import Number
from lightoff.plant.parameters import PARAMETERS, SPREADS, Kind
from lightoff.plant.quantities import COLUMN, QUANTITIES

TESTS, BANDS, SAMPLES = 3, 6, 256
MANY = 1e6
"""Times that each number was read on good visits, where nothing is left to be learned of how it reads."""


def learned(sheet: str, here: Conditions, visits: list[MadeCase]) -> Baseline:
    """The baseline that good visits teach, as the shop's book does it."""
    baseline = unknown_unit()
    for visit in visits:
        numbers = {key: Number(value=value) for key, value in visit.numbers.items()}
        baseline = after_good_visit(baseline, numbers, sheet=SHELF.sheets[sheet], conditions=here)
    return baseline


def known_exactly(own: np.ndarray, *, of_the_day: float = 1.0) -> Baseline:
    """A baseline that no visits could better: the unit's own parameters, and no doubt of them."""
    lasting = np.array([each.persistent for each in PARAMETERS.values()])
    return Baseline(
        mean=np.where(lasting, own / SPREADS, 0.0),
        covariance=np.diag(np.where(lasting, 1e-6, of_the_day**2)),
    )


def most_telling(
    bank: Bank, told: Evidence, found: Posterior, tests: list[tuple[str, ...]]
) -> tuple[str, ...]:
    """The test, by its readings, that is expected to leave the least entropy over the sets."""
    left = {
        keys: _entropy_left(bank, told, found, keys[0])
        if len(keys) == 1
        else _entropy_left_by_all(bank, told, found, keys)
        for keys in tests
    }
    return min(left, key=lambda keys: (left[keys], keys))


def tests_of(bank: Bank, told: Evidence, possible: list[str], *, alone: bool) -> list[tuple[str, ...]]:
    """What can be read, one test each; numbers that one instrument reads without being moved are one."""
    along = {key: () if alone else read_along(bank.catalogue, key, told) for key in possible}
    return list(dict.fromkeys(tuple(sorted({key, *along[key]} & {*possible})) for key in possible))


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


def _entropy_left_by_all(bank: Bank, told: Evidence, found: Posterior, keys: tuple[str, ...]) -> float:
    """The same of several numbers read together, by `SAMPLES` of what they would read."""
    columns = np.array([COLUMN[key] for key in keys])
    noise = np.diag([read_spread(bank, key, told) ** 2 + 1e-12 for key in keys])
    before = read(bank, told)
    weights, means, roots, used = [], [], [], 0
    for part in found.weighed:
        chances = found.chances[used : used + len(part.sets), None]
        used += len(part.sets)
        slopes = bank.slopes_of(part.nodes.parts[part.kept])
        asked, seen = slopes[:, columns], slopes[:, before.columns]
        spread = asked @ np.swapaxes(asked, 1, 2)
        if before.columns.size:
            tied = asked @ np.swapaxes(seen, 1, 2)
            known = seen @ np.swapaxes(seen, 1, 2) + np.diag(before.noise**2)
            spread = spread - tied @ np.linalg.solve(known, np.swapaxes(tied, 1, 2))
        roots.append(np.linalg.cholesky(spread + noise))
        cells = max(part.cells.shape[1] for part in found.weighed)
        room = ((0, 0), (0, cells - part.cells.shape[1]))
        weights.append(np.pad(chances * part.cells, room))
        means.append(np.pad(part.numbers[:, :, columns], (*room, (0, 0))))
    weight, mean, root = (np.concatenate(each) for each in (weights, means, roots))
    weight /= weight.sum()
    running = np.cumsum(weight.ravel())
    picked = np.searchsorted(running, (np.arange(SAMPLES) + 0.5) / SAMPLES * running[-1])
    h, c = np.unravel_index(np.minimum(picked, running.size - 1), weight.shape)
    table = np.random.default_rng(20_261_126).normal(size=(SAMPLES, len(keys)))
    values = mean[h, c] + np.einsum("nij,nj->ni", root[h], table)
    turned = np.linalg.inv(root)
    whitened = (
        np.einsum("hij,hcj->hci", turned, mean)[:, :, None]
        - np.einsum("hij,nj->hni", turned, values)[:, None]
    )
    log = -0.5 * np.sum(whitened**2, axis=3)
    log -= np.sum(np.log(np.diagonal(root, axis1=1, axis2=2)), axis=1)[:, None, None]
    shares = np.einsum("hc,hcn->hn", weight, np.exp(log - log.max(axis=(0, 1))))
    shares /= shares.sum(axis=0)
    return float(-np.mean(np.sum(shares * np.log(np.maximum(shares, 1e-300)), axis=0)))


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


def after_tests(bank: Bank, case: MadeCase, *, alone: bool) -> tuple[list[bool], int, float]:
    """Whether the truth leads, before any test and after each; how many tests read a number; and the chance
    that is held of the truth after the last."""
    (truth,) = case.truth
    known, right, causes, numeric = list(case.known), [], dict[str, float](), 0
    for test in range(TESTS + 1):
        told = known_of(case) if test == 0 else _told(case, known)
        found = posterior(bank, told)
        causes = {**found.faults(), "": found.sound}
        right.append(max(sorted(causes), key=lambda key: causes[key]) == truth)
        if test < TESTS:
            possible = [key for key in (*case.numbers, *case.states) if key not in known]
            best = most_telling(bank, told, found, tests_of(bank, told, possible, alone=alone))
            numeric += best[0] in QUANTITIES
            known += best
    return right, numeric, causes.get(truth, 0.0)


def _told(case: MadeCase, known: list[str]) -> Evidence:
    return evidence(
        numbers={key: case.numbers[key] for key in known if key in case.numbers},
        states={key: case.states[key] for key in known if key in case.states},
    )


def drifts(fault: str) -> bool:
    """Whether a fault moves numbers and opens, sticks or leaks nothing: what is told by a unit's own past."""
    shifts = SHELF.faults[fault].shifts
    return all(PARAMETERS[key].kind is not Kind.SHARE for key in shifts)


class Unit:
    """One heater in a world of its own, its good visits and the faults that befall it."""

    def __init__(self, at: int, *, seed: int, visits: int, cases_each: int) -> None:
        sheets = sorted(SHELF.sheets)
        self.sheet = sheets[at % len(sheets)]
        self.here = PLACES[(at + at // len(sheets)) % len(PLACES)]
        self.there = world(seed + at, SHELF)
        rng = np.random.default_rng([seed + at, 3])
        self.own = rng.normal(size=len(PARAMETERS)) * SPREADS * VARIES_MORE
        made = {
            "there": self.there,
            "shelf": SHELF,
            "sheet": SHELF.sheets[self.sheet],
            "conditions": self.here,
            "unit_row": self.own,
        }
        self.good = cases(visits, seed=seed + at, singles=0.0, doubles=0.0, **made)
        self.bad = cases(
            cases_each, seed=1_000 + seed + at, singles=1.0, doubles=0.0, known_share=0.0, **made
        )

    def judged(self, who: str, *, alone: bool) -> list[tuple[list[bool], int, float]]:
        """Its cases as one of COLUMNS judges them; `alone`: one reading a test."""
        if who.startswith("the world told"):
            bank = oracle_of(self.there, self.sheet, self.here)
            if who.endswith("unit too"):
                bank = replace(bank, baseline=known_exactly(self.own, of_the_day=VARIES_MORE))
            with living_in(self.there):
                return [after_tests(bank, case, alone=alone) for case in self.bad]
        baselines = {
            "without": unknown_unit,
            "with its baseline": lambda: learned(self.sheet, self.here, self.good),
            "the unit known exactly": lambda: known_exactly(self.own),
        }
        if who == "the laws told, and the unit too":
            with living_in(self.there):
                told = replace(known_exactly(self.own), times=np.full(len(QUANTITIES), MANY))
                bank = bank_of(self.sheet, self.here, baseline=told)
                return [after_tests(bank, case, alone=alone) for case in self.bad]
        bank = bank_of(self.sheet, self.here, baseline=baselines[who]())
        return [after_tests(bank, case, alone=alone) for case in self.bad]


COLUMNS = (
    "without",
    "with its baseline",
    "the unit known exactly",
    "the world told",
    "the world told, and the unit too",
    "the laws told, and the unit too",
)


def main() -> None:
    """Print the share of causes that lead, before any test and after each; then by kind of fault."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--units", type=int, default=24)
    parser.add_argument("--cases", type=int, default=20)
    parser.add_argument("--visits", type=int, default=4)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--alone", action="store_true", help="a test is one reading")
    parser.add_argument("--only", default=",,".join(COLUMNS), help="columns, parted by two commas")
    chosen = parser.parse_args()
    columns, start = chosen.only.split(",,"), time.perf_counter()
    right: dict[str, list[list[bool]]] = {each: [] for each in columns}
    numeric: dict[str, list[int]] = {each: [] for each in columns}
    held: dict[str, list[float]] = {each: [] for each in columns}
    drifting: list[bool] = []
    for at in range(chosen.units):
        unit = Unit(at, seed=chosen.seed, visits=chosen.visits, cases_each=chosen.cases)
        drifting += [drifts(next(iter(case.truth))) for case in unit.bad]
        for who in columns:
            judged = unit.judged(who, alone=chosen.alone)
            right[who] += [each for each, _, _ in judged]
            numeric[who] += [count for _, count, _ in judged]
            held[who] += [chance for _, _, chance in judged]
        shares = {who: np.mean(each, axis=0).round(3).tolist() for who, each in right.items()}
        print(f"{at + 1} units, {time.perf_counter() - start:.0f} s: {shares}", flush=True)
    led = {who: np.array(each, dtype=float) for who, each in right.items()}
    print("| tests | " + " | ".join(columns) + " |")
    for test in range(TESTS + 1):
        print(
            f"| {test} | " + " | ".join(f"{100 * led[who][:, test].mean():.1f} %" for who in columns) + " |"
        )
    print("| readings among three tests | " + " | ".join(f"{np.mean(numeric[who]):.2f}" for who in columns))
    print("| chance held of the cause | " + " | ".join(f"{np.mean(held[who]):.3f}" for who in columns) + " |")
    drift = np.array(drifting)
    reads = np.array(numeric[columns[min(1, len(columns) - 1)]])
    for name, among in {
        "all": np.ones(len(drift), dtype=bool),
        "faults by which numbers drift": drift,
        "faults that open, stick or leak": ~drift,
        "two or three numbers read": reads >= 2,
        "at most one number read": reads < 2,
    }.items():
        told = " | ".join(f"{100 * led[who][among, TESTS].mean():.1f} %" for who in columns)
        gains = []
        for one, other in ((0, 1), (0, 2), (3, 4), (0, 5)):
            if max(one, other) < len(columns):
                apart = led[columns[other]][among, TESTS] - led[columns[one]][among, TESTS]
                error = apart.std() / np.sqrt(len(apart))
                gains.append(f"{100 * apart.mean():+.1f} ± {100 * error:.1f}")
        print(f"| {name} ({among.sum()}) | {told} | gains {', '.join(gains)} |")


if __name__ == "__main__":
    main()

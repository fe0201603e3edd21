"""What a unit's own good visits are worth: what leads after three tests, with its baseline and without.

    python benchmarks/fault_baseline.py [--units 24] [--cases 20] [--visits 8] [--seed 1] [--only COLUMNS]

Each unit is a heater of its own in a world of its own; some good visits, with every number read, teach its
baseline. Then one fault, two or none befall it, in the shares of all made-up cases. What leads is right if
it is the fault, one of the two, or that nothing is wrong. Known are what the owner says, whether it lit and
where the start stopped; then three tests are made, each time the one that the search itself expects to leave
the least entropy, by the bank as it is with the baseline that it has. A test is all that its instrument
reads where it is by then, as the search offers it. Beside it what no visits could better: the unit's own
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
from lightoff.faultfinding.options import laid_out
from lightoff.faultfinding.together import entropy_left
from lightoff.plant.baseline import Baseline, unknown_unit
from lightoff.plant.conditions import Conditions
from lightoff.plant.good_visit import after_good_visit
from lightoff.plant.number import Number
from lightoff.plant.parameters import PARAMETERS, SPREADS, Kind
from lightoff.plant.quantities import QUANTITIES

TESTS = 3
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


def most_telling(bank: Bank, told: Evidence, found: Posterior, possible: set[str]) -> tuple[str, ...]:
    """The readings of the test that the search expects to leave the least entropy over the causes.

    Only what can be read is asked for here, so that whether a number is there is no question.
    """
    laid = laid_out(bank, told, found, classes=frozenset(SHELF.catalogue.classes))
    left = {}
    for option in laid.options:
        along = laid.told[option.key].along if option.key in laid.told else ()
        keys = tuple(each for each in (option.key, *along) if each in possible)
        if keys:
            seen = option.likelihood[:, :-1] if option.key in laid.told else option.likelihood
            seen = seen / np.maximum(seen.sum(axis=1, keepdims=True), 1e-300)
            left[keys] = entropy_left(laid.chances, seen)
    return min(left, key=lambda keys: (left[keys], keys))


def after_tests(bank: Bank, case: MadeCase) -> tuple[list[bool], int, float]:
    """Whether what leads is true, before any test and after each; how many tests read a number; and the
    chance that is held of the truth after the last, of two faults the larger."""
    truths = case.truth or {""}
    known, right, causes, numeric = list(case.known), [], dict[str, float](), 0
    for test in range(TESTS + 1):
        told = known_of(case) if test == 0 else _told(case, known)
        found = posterior(bank, told)
        causes = {**found.faults(), "": found.sound}
        right.append(max(sorted(causes), key=lambda key: causes[key]) in truths)
        if test < TESTS:
            best = most_telling(bank, told, found, {*case.numbers, *case.states} - {*known})
            numeric += best[0] in QUANTITIES
            known += best
    return right, numeric, max(causes.get(each, 0.0) for each in truths)


def _told(case: MadeCase, known: list[str]) -> Evidence:
    return evidence(
        numbers={key: case.numbers[key] for key in known if key in case.numbers},
        states={key: case.states[key] for key in known if key in case.states},
    )


def kind_of(case: MadeCase) -> str:
    """What befell it. A fault that drifts moves numbers and opens, sticks or leaks nothing: a unit's own
    past tells it."""
    if len(case.truth) != 1:
        return "two faults" if case.truth else "nothing wrong"
    shifts = SHELF.faults[next(iter(case.truth))].shifts
    drifts = all(PARAMETERS[key].kind is not Kind.SHARE for key in shifts)
    return "one by which numbers drift" if drifts else "one that opens, sticks or leaks"


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
        self.bad = cases(cases_each, seed=1_000 + seed + at, known_share=0.0, **made)

    def judged(self, who: str) -> list[tuple[list[bool], int, float]]:
        """Its cases as one of COLUMNS judges them."""
        if who.startswith("the world told"):
            bank = oracle_of(self.there, self.sheet, self.here)
            if who.endswith("unit too"):
                bank = replace(bank, baseline=known_exactly(self.own, of_the_day=VARIES_MORE))
            with living_in(self.there):
                return [after_tests(bank, case) for case in self.bad]
        baselines = {
            "without": unknown_unit,
            "with its baseline": lambda: learned(self.sheet, self.here, self.good),
            "the unit known exactly": lambda: known_exactly(self.own),
        }
        if who == "the laws told, and the unit too":
            with living_in(self.there):
                told = replace(known_exactly(self.own), times=np.full(len(QUANTITIES), MANY))
                bank = bank_of(self.sheet, self.here, baseline=told)
                return [after_tests(bank, case) for case in self.bad]
        bank = bank_of(self.sheet, self.here, baseline=baselines[who]())
        return [after_tests(bank, case) for case in self.bad]


COLUMNS = (
    "without",
    "with its baseline",
    "the unit known exactly",
    "the world told",
    "the world told, and the unit too",
    "the laws told, and the unit too",
)


def main() -> None:
    """Print how often what leads is right, before any test and after each; then by what befell it."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--units", type=int, default=24)
    parser.add_argument("--cases", type=int, default=20)
    parser.add_argument("--visits", type=int, default=8)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default=",,".join(COLUMNS), help="columns, parted by two commas")
    chosen = parser.parse_args()
    columns, start = chosen.only.split(",,"), time.perf_counter()
    right: dict[str, list[list[bool]]] = {each: [] for each in columns}
    numeric: dict[str, list[int]] = {each: [] for each in columns}
    held: dict[str, list[float]] = {each: [] for each in columns}
    kinds: list[str] = []
    for at in range(chosen.units):
        unit = Unit(at, seed=chosen.seed, visits=chosen.visits, cases_each=chosen.cases)
        kinds += [kind_of(case) for case in unit.bad]
        for who in columns:
            judged = unit.judged(who)
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
    for name in ("all", "one", *sorted(set(kinds))):
        among = np.array([name == "all" or each.startswith(name) for each in kinds])
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

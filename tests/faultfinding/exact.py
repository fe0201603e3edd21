"""The exact best plan on small models, by going through every course of tests and repairs that there is.

Nothing here looks at the engine's planner but to ask it for its next step.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from lightoff.faultfinding.planning import NO_PATH, Option, Repairs, mending, outlook, repair_option


@dataclass(frozen=True)
class SmallTest:
    """A test with the chance of each outcome under each cause, (causes, outcomes)."""

    cost: float
    likelihood: np.ndarray
    path: int = NO_PATH


@dataclass(frozen=True)
class SmallModel:
    """Causes with their chances, repairs with what each mends, tests. `mends` as in `Repairs`."""

    chances: np.ndarray
    mends: Sequence[Sequence[Sequence[int]] | None]
    costs: np.ndarray
    tests: Sequence[SmallTest]
    hand_over: float
    paths: tuple[int, ...] = ()
    owed: tuple[float, ...] = ()

    def path_of(self, repair: int) -> int:
        return self.paths[repair] if self.paths else NO_PATH


State = tuple[tuple[tuple[int, int], ...], frozenset[int]]
"""Outcomes of the tests done, by test; and the repairs done, none of which cured."""


def optimum(model: SmallModel) -> float:
    """Expected minutes of the best plan there is."""
    known: dict[State, float] = {}
    seen = [list(test.likelihood.T) for test in model.tests]
    needs = [[set(ways) for ways in faults or ()] for faults in model.mends]

    def value(state: State, weights: np.ndarray) -> float:
        if state in known:
            return known[state]
        tests, repairs = state
        mass = float(weights.sum())
        best = model.hand_over * mass
        if mass > 1e-15:
            for kind, at in steps_at(model, state):
                least = price(model, state, (kind, at)) * mass
                if least >= best:
                    continue
                if kind == "repair":
                    done = repairs | {at}
                    left = [not ways or not all(done & way for way in ways) for ways in needs]
                    least += value((tests, done), weights * left)
                else:
                    for outcome, chances in enumerate(seen[at]):
                        found = tuple(sorted((*tests, (at, outcome))))
                        least += value((found, repairs), weights * chances)
                best = min(best, least)
        known[state] = best
        return best

    return value(((), frozenset()), np.array(model.chances, dtype=float))


def cost_of(model: SmallModel, policy: Callable[[SmallModel, State], tuple[str, int] | None]) -> float:
    """Expected minutes when every step is the policy's; None hands over."""

    def value(state: State) -> float:
        mass = float(weights_at(model, state).sum())
        if mass <= 1e-15:
            return 0.0
        step = policy(model, state)
        if step is None:
            return model.hand_over * mass
        return price(model, state, step) * mass + sum(map(value, after(model, state, step)))

    return value(((), frozenset()))


def engine(model: SmallModel, state: State) -> tuple[str, int] | None:
    """The engine's step, with its look ahead."""
    repairs, chances, options, steps = laid_out(model, state)
    seen = outlook(repairs, chances, options)
    best = int(np.argmin([*seen.minutes, model.hand_over]))
    return None if best == len(steps) else steps[best]


def myopic(model: SmallModel, state: State) -> tuple[str, int] | None:
    """Without look ahead: the best repair by chance over cost, or a test if it promises less at once."""
    repairs, chances, options, steps = laid_out(model, state)
    seen = outlook(repairs, chances, options)
    tests = [at for at, step in enumerate(steps) if step[0] == "test"]
    best = min(tests, key=lambda at: seen.once[at], default=None)
    if best is not None and seen.once[best] < seen.mending - 1e-12:
        return steps[best]
    return by_ratio(model, state)


def by_ratio(model: SmallModel, state: State) -> tuple[str, int] | None:
    """The repair with the most chance for its cost as things stand, no tests, no look ahead."""
    repairs, chances, _, _ = laid_out(model, state)
    _, first = mending(repairs, chances[:, None])
    if first[0] == NO_PATH:
        return None
    cured = np.array([
        sum(chances[h] for h, faults in enumerate(repairs.mends)
            if faults is not None and all(at in ways for ways in faults))
        for at in range(len(model.costs))
    ])  # fmt: skip
    left = [at for at in range(len(model.costs)) if at not in state[1]]
    return "repair", max(left, key=lambda at: (cured[at] / price(model, state, ("repair", at)), -at))


def laid_out(
    model: SmallModel, state: State
) -> tuple[Repairs, np.ndarray, list[Option], list[tuple[str, int]]]:
    weights = weights_at(model, state)
    done = state[1]
    opened = opened_at(model, state)
    mends = []
    for faults in model.mends:
        left = None if faults is None else [ways for ways in faults if not done & set(ways)]
        mends.append(left or None)
    repairs = Repairs(
        mends=mends,
        costs=np.asarray(model.costs, dtype=float),
        paths=np.array([model.path_of(at) for at in range(len(model.costs))], dtype=np.intp),
        owed=np.array([0.0 if at in opened else minutes for at, minutes in enumerate(model.owed)]),
        hand_over=model.hand_over,
    )
    steps = steps_at(model, state)
    options = [
        repair_option(repairs, at, f"repair {at}")
        if kind == "repair"
        else Option(
            key=f"test {at}",
            cost=model.tests[at].cost,
            likelihood=model.tests[at].likelihood,
            path=model.tests[at].path,
        )
        for kind, at in steps
    ]
    return repairs, weights / weights.sum(), options, steps


def weights_at(model: SmallModel, state: State) -> np.ndarray:
    tests, repairs = state
    weights = np.array(model.chances, dtype=float)
    for at, outcome in tests:
        weights = weights * model.tests[at].likelihood[:, outcome]
    for cause, faults in enumerate(model.mends):
        if faults is not None and all(repairs & set(ways) for ways in faults):
            weights[cause] = 0.0
    return weights


def opened_at(model: SmallModel, state: State) -> set[int]:
    return {model.tests[at].path for at, _ in state[0]} | {model.path_of(at) for at in state[1]}


def steps_at(model: SmallModel, state: State) -> list[tuple[str, int]]:
    tested = {at for at, _ in state[0]}
    return [
        *(("test", at) for at in range(len(model.tests)) if at not in tested),
        *(("repair", at) for at in range(len(model.costs)) if at not in state[1]),
    ]


def price(model: SmallModel, state: State, step: tuple[str, int]) -> float:
    kind, at = step
    path = model.tests[at].path if kind == "test" else model.path_of(at)
    owed = 0.0 if path == NO_PATH or path in opened_at(model, state) else model.owed[path]
    return owed + float(model.tests[at].cost if kind == "test" else model.costs[at])


def after(model: SmallModel, state: State, step: tuple[str, int]) -> list[State]:
    (tests, repairs), (kind, at) = state, step
    if kind == "repair":
        return [(tests, repairs | {at})]
    outcomes = range(model.tests[at].likelihood.shape[1])
    return [(tuple(sorted((*tests, (at, outcome)))), repairs) for outcome in outcomes]


def random_model(
    rng: np.random.Generator, *, dependent: bool = False, pairs: bool = False, clusters: bool = False
) -> SmallModel:
    """Four to six faults and three to five tests; repairs that overlap, pairs of faults, paths to open."""
    faults = int(rng.integers(4, 7))
    chances = list(rng.dirichlet(np.full(faults, 1.0)))
    ways: list[list[int]] = [[at] for at in range(faults)]
    costs = list(rng.uniform(5.0, 60.0, faults))
    if dependent:
        for _ in range(2):
            covers = rng.choice(faults, size=2, replace=False)
            costs.append(float(rng.uniform(0.6, 1.1) * sum(costs[at] for at in covers)))
            for at in covers:
                ways[int(at)].append(len(costs) - 1)
    mends: list[list[list[int]] | None] = [[each] for each in ways]
    if pairs:
        for _ in range(3):
            one, other = rng.choice(faults, size=2, replace=False)
            mends.append([ways[int(one)], ways[int(other)]])
            chances.append(float(rng.uniform(0.03, 0.1)))
    mends.append(None)  # nobody wrote it down
    chances.append(0.05)
    causes = len(mends)
    tests = []
    for _ in range(int(rng.integers(3, 6))):
        outcomes = int(rng.integers(2, 4))
        tests.append(
            SmallTest(
                cost=float(rng.uniform(1.0, 12.0)),
                likelihood=rng.dirichlet(np.full(outcomes, 0.35), size=causes),
                path=int(rng.integers(-1, 2)) if clusters else NO_PATH,
            )
        )
    return SmallModel(
        chances=np.array(chances) / sum(chances),
        mends=mends,
        costs=np.array(costs),
        tests=tests,
        hand_over=float(rng.uniform(100.0, 250.0)),
        paths=tuple(int(at) for at in rng.integers(-1, 2, len(costs))) if clusters else (),
        owed=(8.0, 15.0) if clusters else (),
    )


def ratios(
    models: Sequence[SmallModel], policies: Mapping[str, Callable[..., object]]
) -> dict[str, np.ndarray]:
    """Cost of each policy over the optimum, model by model."""
    best = [optimum(model) for model in models]
    return {
        name: np.array([cost_of(model, policy) / least for model, least in zip(models, best, strict=True)])  # type: ignore[arg-type]
        for name, policy in policies.items()
    }

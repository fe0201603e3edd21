"""The planner against the exact best plan on small models, and the laws that any good plan obeys."""

from collections.abc import Sequence
from dataclasses import replace

import exact
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lightoff.faultfinding.planning import NO_PATH, Option, Repairs, mending, outlook, repair_option

FLAVOURS = {
    "single faults": {},
    "overlapping repairs": {"dependent": True},
    "pairs of faults": {"pairs": True},
    "paths to open": {"clusters": True},
}
DEPENDENT = exact.SmallModel(
    chances=np.array([0.1, 0.2, 0.5, 0.2]),
    mends=[[[1]], [[1, 2]], [[2, 3]], [[0, 3]]],
    costs=np.array([6.0, 3.0, 5.0, 5.0]),
    tests=[],
    hand_over=1_000.0,
)
"""Repairs 0 to 3 mend faults {3}, {0, 1}, {1, 2}, {2, 3}."""


def models(flavour: str, count: int) -> list[exact.SmallModel]:
    dice = np.random.default_rng([2_004, *flavour.encode()])
    return [exact.random_model(dice, **FLAVOURS[flavour]) for _ in range(count)]


@pytest.mark.parametrize("flavour", FLAVOURS)
def test_the_policy_costs_within_five_per_cent_of_the_optimum(flavour: str) -> None:
    found = exact.ratios(
        models(flavour, 4), {"engine": exact.engine, "myopic": exact.myopic, "ratio": exact.by_ratio}
    )
    assert np.all(found["engine"] >= 1.0 - 1e-9)  # the optimum is one
    assert found["engine"].mean() <= 1.05
    assert found["engine"].mean() <= found["myopic"].mean() + 1e-9
    assert found["ratio"].mean() > 1.05  # without tests it is dear: the models are no child's play


def test_chance_over_cost_loses_where_repairs_overlap_and_looking_ahead_does_not() -> None:
    best = exact.optimum(DEPENDENT)
    assert exact.cost_of(DEPENDENT, exact.by_ratio) == pytest.approx(1.1525 * best, rel=1e-4)
    assert exact.cost_of(DEPENDENT, exact.engine) == pytest.approx(best)


# Laws


def some_model(seed: int) -> exact.SmallModel:
    flavour = {"pairs": bool(seed % 2), "clusters": bool(seed % 3), "dependent": bool(seed % 5)}
    return exact.random_model(np.random.default_rng(seed), **flavour)


def small(seed: int) -> tuple[Repairs, np.ndarray, list[Option]]:
    repairs, chances, options, _ = exact.laid_out(some_model(seed), ((), frozenset()))
    return repairs, chances, options


def best(repairs: Repairs, chances: np.ndarray, options: Sequence[Option]) -> float:
    return float(min([*outlook(repairs, chances, options).minutes, repairs.hand_over]))


seeds = st.integers(0, 10_000)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(seeds)
def test_one_more_option_never_raises_the_best_expected_cost_by_repairs_alone(seed: int) -> None:
    repairs, chances, options = small(seed)
    plain = [option for option in options if option.ends]
    looks = [option for option in options if not option.ends]
    for at in range(len(looks)):
        assert best(repairs, chances, [*plain, *looks[: at + 1]]) <= best(repairs, chances, plain) + 1e-9


@settings(max_examples=25, deadline=None, derandomize=True)
@given(seeds)
def test_a_perfect_test_for_nothing_never_hurts_and_then_only_the_mending_is_paid(seed: int) -> None:
    repairs, chances, options = small(seed)
    perfect = Option(key="perfect", cost=0.0, likelihood=np.eye(len(chances)))
    seen = outlook(repairs, chances, [*options, perfect])
    known = [
        exact.optimum(replace(some_model(seed), chances=sure, tests=[])) for sure in np.eye(len(chances))
    ]
    assert seen.minutes[-1] == pytest.approx(float(chances @ known), rel=0.02)
    assert seen.minutes[-1] >= float(chances @ known) - 1e-9
    assert seen.minutes[-1] <= seen.minutes.min() + 1e-9


@settings(max_examples=25, deadline=None, derandomize=True)
@given(seeds, st.floats(0.1, 10.0))
def test_costs_scale(seed: int, factor: float) -> None:
    repairs, chances, options = small(seed)
    dearer = Repairs(
        mends=repairs.mends,
        costs=factor * repairs.costs,
        paths=repairs.paths,
        owed=factor * repairs.owed,
        hand_over=factor * repairs.hand_over,
    )
    scaled = [
        repair_option(dearer, int(option.key.split()[1]), option.key)
        if option.ends
        else Option(key=option.key, cost=factor * option.cost, likelihood=option.likelihood, path=option.path)
        for option in options
    ]
    assert outlook(dearer, chances, scaled).minutes == pytest.approx(
        factor * outlook(repairs, chances, options).minutes, rel=1e-6
    )


@settings(max_examples=25, deadline=None, derandomize=True)
@given(seeds)
def test_a_test_that_tells_nothing_costs_its_minutes_and_no_less(seed: int) -> None:
    repairs, chances, options = small(seed)
    blank = Option(key="blank", cost=7.0, likelihood=np.full((len(chances), 2), 0.5))
    seen = outlook(repairs, chances, [*options, blank])
    assert seen.minutes[-1] >= seen.minutes[:-1].min() - 1e-9


@settings(max_examples=25, deadline=None, derandomize=True)
@given(seeds)
def test_nothing_costs_more_than_its_own_minutes_and_handing_over(seed: int) -> None:
    repairs, chances, options = small(seed)
    seen = outlook(repairs, chances, options)
    assert seen.mending <= repairs.hand_over + 1e-9
    for option, minutes in zip(options, seen.minutes, strict=True):
        owed = repairs.owed[option.path] if option.path != NO_PATH else 0.0
        assert 0.0 < minutes <= option.cost + owed + repairs.hand_over + 1e-9


@settings(max_examples=15, deadline=None, derandomize=True)
@given(seeds, st.randoms(use_true_random=False))
def test_the_order_of_options_and_causes_does_not_matter(seed: int, dice) -> None:  # type: ignore[no-untyped-def]
    repairs, chances, options = small(seed)
    turn = list(range(len(chances)))
    dice.shuffle(turn)
    other = Repairs(
        mends=[repairs.mends[at] for at in turn],
        costs=repairs.costs,
        paths=repairs.paths,
        owed=repairs.owed,
        hand_over=repairs.hand_over,
    )
    mixed = list(range(len(options)))
    dice.shuffle(mixed)
    again = [
        Option(
            key=options[at].key,
            cost=options[at].cost,
            likelihood=options[at].likelihood[turn],
            path=options[at].path,
            ends=options[at].ends,
            costs_after=options[at].costs_after,
        )
        for at in mixed
    ]
    assert outlook(other, chances[turn], again).minutes == pytest.approx(
        outlook(repairs, chances, options).minutes[mixed], rel=1e-9
    )


# Plans of repairs


def plain(chances: Sequence[float], costs: Sequence[float], hand_over: float) -> tuple[float, int]:
    repairs = Repairs(
        mends=[[[at]] for at in range(len(costs))],
        costs=np.array(costs),
        paths=np.full(len(costs), NO_PATH),
        owed=np.zeros(0),
        hand_over=hand_over,
    )
    minutes, first = mending(repairs, np.array(chances)[:, None])
    return float(minutes[0]), int(first[0])


def test_both_repairs_of_a_pair_are_paid() -> None:
    repairs = Repairs(
        mends=[[[0], [1]]],
        costs=np.array([10.0, 20.0]),
        paths=np.full(2, NO_PATH),
        owed=np.zeros(0),
        hand_over=1_000.0,
    )
    assert mending(repairs, np.ones((1, 1)))[0][0] == pytest.approx(30.0)


def test_a_path_is_paid_once_and_not_at_all_once_it_is_open() -> None:
    repairs = Repairs(
        mends=[[[0]], [[1]]],
        costs=np.array([10.0, 20.0]),
        paths=np.zeros(2, dtype=np.intp),
        owed=np.array([5.0]),
        hand_over=1_000.0,
    )
    even = np.array([[0.5], [0.5]])
    assert mending(repairs, even)[0][0] == pytest.approx(5.0 + 10.0 + 0.5 * 20.0)
    assert mending(repairs, even, owed=np.zeros((1, 1)))[0][0] == pytest.approx(10.0 + 0.5 * 20.0)


def test_what_nothing_mends_is_handed_over() -> None:
    assert plain([1.0], [10.0], 5.0) == (5.0, NO_PATH)
    hopeless = Repairs(
        mends=[None], costs=np.array([1.0]), paths=np.array([NO_PATH]), owed=np.zeros(0), hand_over=50.0
    )
    minutes, first = mending(hopeless, np.ones((1, 1)))
    assert (minutes[0], first[0]) == (50.0, NO_PATH)


def test_a_sure_look_before_a_dear_repair_is_part_of_the_plan() -> None:
    repairs = Repairs(
        mends=[[[0]], [[1]]],
        costs=np.array([100.0, 100.0]),
        paths=np.full(2, NO_PATH),
        owed=np.zeros(0),
        hand_over=1_000.0,
    )
    sees = np.array([[1.0, 0.0], [0.0, 1.0]])
    looks = [Option(key="look", cost=2.0, likelihood=sees)]
    blank = Option(key="blank", cost=1.0, likelihood=np.ones((2, 1)))
    seen = outlook(repairs, np.array([0.5, 0.5]), [*looks, blank])
    assert seen.once[1] == pytest.approx(1.0 + 2.0 + 100.0, abs=2.1)  # goes on by looking, not by trying
    assert seen.mending == pytest.approx(150.0)


def test_a_locked_step_is_judged_only_behind_what_unlocks_it() -> None:
    repairs = Repairs(
        mends=[[[0]], [[1]]],
        costs=np.array([100.0, 100.0]),
        paths=np.full(2, NO_PATH),
        owed=np.zeros(0),
        hand_over=1_000.0,
    )
    sees = Option(key="sees", cost=2.0, likelihood=np.eye(2), locked=True)
    key = Option(key="key", cost=1.0, likelihood=np.ones((2, 1)), unlocks=frozenset({"sees"}))
    useless = Option(key="useless", cost=1.0, likelihood=np.ones((2, 1)))
    seen = outlook(repairs, np.array([0.5, 0.5]), [sees, key, useless])
    assert np.isinf(seen.minutes[0])
    assert seen.minutes[1] == pytest.approx(103.0)
    assert seen.minutes[2] == pytest.approx(151.0)

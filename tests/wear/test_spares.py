"""Spares: more on the van never hurts, limits are kept, and small kits are the best of all there are."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lightoff.ground.errors import Refusal
from lightoff.texts import Speaker
from lightoff.wear.demand import demand_of, poisson_demand, season_demand, stock_to_hold
from lightoff.wear.spares import Aim, Call, Item, Limits, best_kit, day_chance

MISSING = (
    "Saltgrass: about 9 in 10 to finish with what is on the van;"
    " most likely missing is the pump (about 1 in 10)."
)
CHANCE = st.floats(0.0, 1.0)
CALLS = st.lists(
    st.builds(
        lambda needs: Call(name="visit", needs=needs),
        st.dictionaries(st.sampled_from(["igniter", "nozzle", "pump"]), CHANCE),
    ),
    min_size=1,
    max_size=5,
)
KIT = st.fixed_dictionaries({part: st.integers(0, 3) for part in ("igniter", "nozzle", "pump")})
ITEMS = st.lists(
    st.builds(
        lambda price, mass, mean: (price, mass, mean),
        st.integers(1, 60),
        st.integers(1, 30),
        st.floats(0.05, 2.0),
    ),
    min_size=1,
    max_size=4,
).map(
    lambda rows: [
        Item(part=f"part {at}", price=float(p), mass_kg=float(m), demand=poisson_demand(mean), most=3)
        for at, (p, m, mean) in enumerate(rows)
    ]
)


@given(calls=CALLS, kit=KIT, part=st.sampled_from(["igniter", "nozzle", "pump"]))
@settings(max_examples=60, deadline=None)
def test_a_piece_more_never_hurts(calls, kit, part) -> None:
    before, after = day_chance(calls, kit), day_chance(calls, {**kit, part: kit[part] + 1})
    assert after.every >= before.every - 1e-12
    for one, other in zip(before.calls, after.calls, strict=True):
        assert other.chance >= one.chance - 1e-12
    assert before.every <= min(each.chance for each in before.calls) + 1e-12


def test_a_day_played_out_comes_out_as_told() -> None:
    calls = [Call(name=str(at), needs={"igniter": 0.4, "nozzle": 0.3}) for at in range(3)]
    told = day_chance(calls, {"igniter": 1, "nozzle": 1})
    draw = np.random.default_rng(2)
    need = draw.random((40_000, 3, 2)) < np.array([0.4, 0.3])
    short = need & (need.cumsum(axis=1) > 1)
    finished = ~short.any(axis=2)
    for at, each in enumerate(told.calls):
        assert finished[:, at].mean() == pytest.approx(each.chance, abs=0.01)
    assert finished.all(axis=1).mean() == pytest.approx(told.every, abs=0.01)


def test_what_is_missing_is_named() -> None:
    told = day_chance(
        [Call(name="Saltgrass", needs={"igniter": 0.3, "pump": 0.1}), Call(name="Wren", needs={})],
        {"igniter": 1},
    )
    said = [Speaker().say(each) for each in told.says()]
    assert said == [
        "Chance that no visit of the day (2) needs a second trip: about 9 in 10.",
        MISSING,
        "Wren: more than 99 in 100 to finish with what is on the van.",
    ]


def test_where_all_is_carried_nothing_is_missing() -> None:
    told = day_chance([Call(name="Wren", needs={"igniter": 0.3})], {"igniter": 1})
    assert told.calls[0].missing is None
    assert told.every == 1.0


@given(items=ITEMS, price=st.integers(0, 150), mass=st.integers(0, 90), aim=st.sampled_from(list(Aim)))
@settings(max_examples=60, deadline=None)
def test_limits_are_kept_and_the_kit_is_near_the_best_there_is(items, price, mass, aim) -> None:
    limits = Limits(price=float(price), mass_kg=float(mass))
    kit = best_kit(items, limits, aim=aim)
    assert kit.price <= price
    assert kit.mass_kg <= mass

    def worth(counts) -> float:
        if aim is Aim.SHORTAGES:
            return -sum(item.demand.shortage(n) for item, n in zip(items, counts, strict=True))
        return math.prod(item.demand.met(n) for item, n in zip(items, counts, strict=True))

    best = max(
        worth(counts)
        for counts in itertools.product(range(4), repeat=len(items))
        if sum(n * item.price for item, n in zip(items, counts, strict=True)) <= price
        and sum(n * item.mass_kg for item, n in zip(items, counts, strict=True)) <= mass
    )
    got = worth(list(kit.counts.values()))
    assert got <= best + 1e-12
    nothing = worth([0] * len(items))
    assert got >= nothing + 0.95 * (best - nothing) - 1e-9


def test_without_limits_all_that_may_be_asked_for_is_carried() -> None:
    items = [
        Item(part="igniter", price=95, demand=demand_of([0.2, 0.1])),
        Item(part="hose", price=5, demand=demand_of([0.0])),
    ]
    kit = best_kit(items, Limits())
    assert kit.counts == {"igniter": 2, "hose": 0}
    assert kit.enough_chance == pytest.approx(1.0)
    assert kit.next_part is None
    assert Speaker().say(kit.says()[0]) == "Carry 2 × igniter."
    bare = best_kit(items, Limits(price=10.0))
    said = " ".join(Speaker().say(each) for each in bare.says())
    assert "Nothing fits within these limits." in said
    assert "the next piece would be the igniter" in said


def test_demands_are_what_they_say() -> None:
    assert demand_of([0.5, 0.5]).chances.tolist() == pytest.approx([0.25, 0.5, 0.25])
    assert demand_of([]).met(0) == 1.0
    for mean in (0.0, 0.3, 7.0, 900.0):
        assert poisson_demand(mean).mean == pytest.approx(mean, abs=1e-6)
        assert poisson_demand(mean).chances.sum() == pytest.approx(1.0, abs=1e-9)
    wide = season_demand(request_count=3, exposure=8.0, coming=8.0)
    assert wide.mean == pytest.approx(3.5, abs=1e-6)
    assert 1.0 - wide.met(8) > 2 * (1.0 - poisson_demand(3.5).met(8))
    sure = season_demand(request_count=3000, exposure=8000.0, coming=8.0)
    assert sure.met(3) == pytest.approx(poisson_demand(3.0).met(3), abs=1e-3)


@given(mean=st.floats(0.05, 20.0), short=st.floats(1.0, 50.0), more=st.floats(1.0, 50.0))
@settings(max_examples=40, deadline=None)
def test_dearer_shortages_never_lower_the_stock(mean, short, more) -> None:
    demand = poisson_demand(mean)
    one = stock_to_hold(demand, left_over_cost=2.0, short_cost=short)
    assert stock_to_hold(demand, left_over_cost=2.0, short_cost=short + more) >= one


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda: demand_of([1.2]), "from nought to one"),
        (lambda: poisson_demand(-1.0), "from nought to 10,000"),
        (lambda: season_demand(request_count=9, exposure=1e-3, coming=1e6), "from nought to 10,000"),
        (lambda: season_demand(request_count=0, exposure=0.0, coming=1.0), "needs the time"),
        (lambda: day_chance([], {"igniter": -1}), "below nought"),
        (lambda: best_kit([Item(part="a", price=1, demand=demand_of([]))] * 2, Limits()), "twice"),
        (lambda: best_kit([Item(part="a", price=-1, demand=demand_of([]))], Limits()), "from nought up"),
        (lambda: stock_to_hold(poisson_demand(1), left_over_cost=0, short_cost=1), "above nought"),
    ],
)
def test_what_cannot_be_is_refused(ask, words) -> None:
    with pytest.raises(Refusal) as refused:
        ask()
    assert words in Speaker().say(refused.value.message)


def test_what_is_needed_for_sure_comes_before_what_may_be_needed() -> None:
    rings = Item(part="ring", price=10.0, demand=demand_of([1.0] * 4))
    pump = Item(part="pump", price=10.0, demand=demand_of([0.4, 0.4]))
    tight = best_kit([rings, pump], Limits(price=40.0))
    assert tight.counts == {"ring": 4, "pump": 0}
    wider = best_kit([rings, pump], Limits(price=50.0))
    assert wider.counts == {"ring": 4, "pump": 1}
    assert wider.enough_chance == pytest.approx(1.0 - 0.4 * 0.4)

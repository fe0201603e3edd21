"""Advice: it follows costs and age the way a technician would expect, and says why."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lightoff.ground.errors import Refusal
from lightoff.texts import Speaker
from lightoff.wear import replacement
from lightoff.wear.advice import Action, Advice, Costs, advise
from lightoff.wear.lives import Clock, Life
from lightoff.wear.posterior import LifePosterior, LifePrior, Use, known_life, possible_lives
from lightoff.wear.replacement import age_replacement, cost_per_season

HOURS = Clock.RUN_HOURS
SEASON = Use(clock=HOURS, expected=500, spread=0.2)
PRIOR = LifePrior(clock=HOURS, life=2500, life_spread=0.7, shape=2.5, shape_spread=0.4, basis="made up")
COSTS = Costs(part=95.0)
MONEY = st.floats(5.0, 500.0)
SOME_COSTS = st.builds(
    Costs, part=MONEY, fitting=MONEY, opening=MONEY, trip=MONEY, failure=MONEY, second_trip=MONEY
)
LIFE = st.builds(
    lambda life, shape: known_life(clock=HOURS, life=life, shape=shape),
    st.floats(500, 8000),
    st.floats(0.6, 5.0),
)


def asked(lives: LifePosterior, age: float, costs: Costs, *, is_open: bool = True) -> Advice:
    return advise(lives, part="igniter", age=age, season=SEASON, costs=costs, is_open=is_open)


@given(lives=LIFE, age=st.floats(0.0, 6000.0), costs=SOME_COSTS)
@settings(max_examples=40, deadline=None)
def test_the_advice_is_the_cheapest_way_and_all_agree_where_there_is_no_doubt(lives, age, costs) -> None:
    given_ = asked(lives, age, costs)
    assert given_.costs[given_.action] == min(given_.costs.values())
    assert given_.agreeing == pytest.approx(1.0)
    assert given_.saving >= 0.0


@given(lives=LIFE, age=st.floats(0.0, 6000.0), costs=SOME_COSTS)
@settings(max_examples=40, deadline=None)
def test_having_to_open_the_housing_never_speaks_for_renewing_now(lives, age, costs) -> None:
    if asked(lives, age, costs, is_open=False).action is Action.RENEW_NOW:
        assert asked(lives, age, costs, is_open=True).action is Action.RENEW_NOW


@given(lives=LIFE, age=st.floats(0.0, 6000.0), costs=SOME_COSTS, more=st.floats(1.0, 400.0))
@settings(max_examples=40, deadline=None)
def test_a_dearer_second_trip_never_speaks_against_a_spare(lives, age, costs, more) -> None:
    dearer = replace(costs, second_trip=costs.second_trip + more)
    before, after = asked(lives, age, costs), asked(lives, age, dearer)

    def worth(advice: Advice) -> float:
        """What a spare saves against leaving the part without one."""
        kept = min(advice.costs[Action.LEAVE], advice.costs[Action.RENEW_AT_NEXT_OPENING])
        return kept - advice.costs[Action.CARRY_A_SPARE]

    assert worth(after) >= worth(before) - 1e-9


@given(
    life=st.floats(500, 6000),
    shape=st.floats(1.2, 5.0),
    age=st.floats(0.0, 6000.0),
    costs=SOME_COSTS,
    more=st.floats(1.0, 400.0),
)
@settings(max_examples=60, deadline=None)
def test_with_a_part_that_wears_dearer_failures_and_older_pieces_speak_for_renewing(
    life, shape, age, costs, more
) -> None:
    lives = known_life(clock=HOURS, life=life, shape=shape)
    if asked(lives, age, costs).action is Action.RENEW_NOW:
        assert asked(lives, age + more, costs).action is Action.RENEW_NOW
        if asked(lives, age, costs).saving > 0.5:
            dearer = replace(costs, failure=costs.failure + more)
            assert asked(lives, age, dearer).action is Action.RENEW_NOW


@given(life=st.floats(500, 6000), shape=st.floats(0.4, 1.0), age=st.floats(1.0, 6000.0), costs=SOME_COSTS)
@settings(max_examples=30, deadline=None)
def test_a_part_that_fails_by_chance_is_never_renewed_early(life, shape, age, costs) -> None:
    lives = known_life(clock=HOURS, life=life, shape=shape)
    assert asked(lives, age, costs).action in (Action.CARRY_A_SPARE, Action.LEAVE)
    assert age_replacement(lives, planned_cost=50, failure_cost=500).age is None


def test_the_costs_are_those_of_a_life_played_out() -> None:
    """Twenty thousand pieces followed to their renewal cost what the advice says, the time won paid for."""
    lives, age = known_life(clock=HOURS, life=2000, shape=3), 900.0
    advice = asked(lives, age, COSTS)
    planned = COSTS.renewal(is_open=True, is_on_site=True)
    bare = cost_per_season(
        lives, SEASON, planned_cost=planned, failure_cost=COSTS.failing(has_spare=False)
    ).min()
    kept = cost_per_season(
        lives, SEASON, planned_cost=planned, failure_cost=COSTS.failing(has_spare=True)
    ).min()
    rate = min(bare, kept + COSTS.spare_share * COSTS.part)
    draw = np.random.default_rng(5)
    died = 2000 * ((age / 2000) ** 3 - np.log(draw.random(20_000))) ** (1 / 3)
    used = np.minimum(died - age, 500)
    cost = np.where(died < age + 500, COSTS.failing(has_spare=False), planned) - rate * used / 500
    spread = cost.std() / np.sqrt(cost.size)
    assert advice.costs[Action.RENEW_AT_NEXT_OPENING] == pytest.approx(cost.mean(), abs=4 * spread)


@pytest.mark.parametrize("shape", [0.5, 0.8, 1.0, 2.0, 6.0])
@pytest.mark.parametrize("life", [0.5, 40.0, 900.0, 1e6])
def test_mean_use_is_that_of_the_gamma_function(life: float, shape: float) -> None:
    """Waiting for failures costs one failure a mean life, however short that is against a season."""
    lives = known_life(clock=HOURS, life=life, shape=shape)
    waiting = age_replacement(lives, planned_cost=1.0, failure_cost=1.0)
    mean = life * math.gamma(1.0 + 1.0 / shape)
    assert waiting.cost_of_waiting_per_unit == pytest.approx(1.0 / mean, rel=2e-3)
    season = 200.0 * life
    costs = cost_per_season(
        lives, replace(SEASON, expected=season), planned_cost=1.0, failure_cost=1.0, seasons=2
    )
    assert costs[-1] == pytest.approx(season / mean, rel=2e-3)


def test_an_old_igniter_is_renewed_and_a_new_one_kept() -> None:
    failed = [Life.failed_at(each, clock=HOURS) for each in (1600, 2300)]
    good = [Life.good_at(each, clock=HOURS) for each in (900, 1400, 2100)]

    def at(age: float) -> Advice:
        lives = possible_lives([*failed, *good, Life.good_at(age, clock=HOURS)], PRIOR)
        return asked(lives, age, COSTS)

    old, new = at(2600), at(100)
    assert old.action is Action.RENEW_NOW
    assert new.action in (Action.CARRY_A_SPARE, Action.LEAVE)
    assert new.chance_to_last.value > old.chance_to_last.value + 0.2
    said = " ".join(Speaker().say(each) for each in old.says())
    assert said.startswith("Renew now: igniter.")
    for words in (
        "Chance to last the coming season of about 500 run hours",
        "Failures seen: 2; lives followed: 6.",
        "made up",
    ):
        assert words in said


@given(lives=LIFE, age=st.floats(0.0, 6000.0), costs=SOME_COSTS)
@settings(max_examples=30, deadline=None)
def test_a_spare_that_is_carried_already_is_no_longer_advised_and_cheapens_a_failure(
    lives, age, costs
) -> None:
    carried = advise(lives, part="igniter", age=age, season=SEASON, costs=costs, is_open=True, has_spare=True)
    assert Action.CARRY_A_SPARE not in carried.costs
    assert carried.action in carried.costs
    assert carried.failure_cost == pytest.approx(asked(lives, age, costs).failure_cost - costs.second_trip)


def test_what_is_left_of_a_season_does_not_shorten_the_seasons_after_it() -> None:
    lives = known_life(clock=HOURS, life=2000, shape=3)

    def till_spring(hours: float, usual: Use | None) -> Advice:
        left = replace(SEASON, expected=hours)
        return advise(
            lives, part="igniter", age=1200, season=left, costs=COSTS, is_open=True, between_visits=usual
        )

    assert till_spring(500, SEASON).costs == pytest.approx(till_spring(500, None).costs)
    soon, late = till_spring(50, SEASON), till_spring(500, SEASON)
    assert soon.chance_to_last.value > late.chance_to_last.value
    assert soon.costs[Action.RENEW_AT_NEXT_OPENING] < late.costs[Action.RENEW_AT_NEXT_OPENING]
    assert soon.costs[Action.RENEW_NOW] == late.costs[Action.RENEW_NOW]
    assert till_spring(1e-6, SEASON).costs[Action.RENEW_AT_NEXT_OPENING] == pytest.approx(
        COSTS.renewal(is_open=True, is_on_site=True), abs=1e-3
    )


def test_a_close_call_is_called_one() -> None:
    lives = known_life(clock=HOURS, life=2000, shape=3)
    ages = np.linspace(0, 3000, 241)
    advices = [asked(lives, float(age), COSTS) for age in ages]
    turn = next(at for at, each in enumerate(advices) if each.action is Action.RENEW_NOW)
    assert advices[turn].is_close
    assert "close call" in " ".join(Speaker().say(each) for each in advices[turn].says())
    assert not advices[-1].is_close


def test_what_renewing_and_failing_cost_adds_up() -> None:
    costs = Costs(part=1.0, fitting=2.0, opening=4.0, trip=8.0, failure=16.0, second_trip=32.0)
    assert costs.renewal(is_open=True, is_on_site=True) == 3.0
    assert costs.renewal(is_open=False, is_on_site=True) == 7.0
    assert costs.renewal(is_open=False, is_on_site=False) == 15.0
    assert costs.failing(has_spare=True) == 31.0
    assert costs.failing(has_spare=False) == 63.0


def test_a_part_that_never_fails_costs_what_can_be_counted_by_hand() -> None:
    """Renewed for 145 at the fifteenth visit in the long run: a season is worth 145 / 15."""
    advice = asked(known_life(clock=HOURS, life=1e9, shape=3), 0.0, replace(COSTS, spare_share=0.2))
    season = 145.0 / 15.0
    assert advice.costs == pytest.approx(
        {
            Action.RENEW_NOW: 145.0,
            Action.RENEW_AT_NEXT_OPENING: 145.0 - season,
            Action.CARRY_A_SPARE: 145.0 - season + 0.2 * 95.0,
            Action.LEAVE: 0.0,
        },
        abs=1e-6,
    )
    assert advice.action is Action.LEAVE
    assert advice.renew_after_seasons is None
    assert advice.agreeing == 1.0


def test_a_small_saving_is_still_one() -> None:
    best = age_replacement(known_life(clock=HOURS, life=1000, shape=1.4), planned_cost=1, failure_cost=5)
    assert best.age is not None
    assert 0.01 < 1.0 - best.cost_per_unit / best.cost_of_waiting_per_unit < 0.1


def test_costs_below_nought_are_refused() -> None:
    with pytest.raises(Refusal) as refused:
        Costs(part=0.0)
    assert refused.value.field == "part"
    with pytest.raises(Refusal):
        Costs(part=10.0, trip=-1.0)
    with pytest.raises(Refusal):
        age_replacement(known_life(clock=HOURS, life=1, shape=2), planned_cost=0.0, failure_cost=1.0)


def test_when_to_renew_is_said_in_a_sentence() -> None:
    best = age_replacement(known_life(clock=HOURS, life=1000, shape=2.5), planned_cost=1, failure_cost=5)
    assert Speaker().say(best.says()[0]) == (
        "Renewed at about 490 run hours, it costs 39 % less in the long run than waiting for failures."
    )


@pytest.mark.parametrize("shape", [0.7, 1.8, 4.0])
@pytest.mark.parametrize("age", [0.0, 300.0, 2500.0])
def test_over_short_seasons_a_few_nodes_are_as_good_as_many(
    monkeypatch: pytest.MonkeyPatch, shape: float, age: float
) -> None:
    lives = known_life(clock=Clock.RUN_HOURS, life=2000.0, shape=shape)
    edges = age + 750.0 * np.arange(16.0)
    few = replacement.further_use(lives, edges)
    monkeypatch.setattr(replacement, "_SHORT", 0.0)
    many = replacement.further_use(lives, edges)
    np.testing.assert_allclose(few[1], many[1], rtol=2e-4)
    np.testing.assert_array_equal(few[0], many[0])

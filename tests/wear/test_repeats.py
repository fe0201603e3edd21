"""Come-backs count recent visits only as far as they were watched; troublemakers are named sparingly."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lightoff.ground.errors import Declined, Refusal
from lightoff.texts import Speaker
from lightoff.wear.repeats import Gap, History, come_back_rate, laplace_trend, mean_cumulative, troublemakers


def drawn(seed: int, rates: list[float], days: float = 1000.0) -> list[History]:
    draw = np.random.default_rng(seed)
    return [
        History(
            heater=f"heater {at}",
            repairs=tuple(sorted(float(each) for each in draw.uniform(0.0, days, draw.poisson(rate)))),
            until=days,
        )
        for at, rate in enumerate(rates)
    ]


def test_the_thirtieth_day_counts() -> None:
    found = come_back_rate(
        [Gap(days=30, came_back=True), Gap(days=31, came_back=True), Gap(days=30, came_back=False)]
    )
    assert found.come_back_count == 1
    assert found.watched_count == 3
    assert found.rate.value == pytest.approx(1 / 3)


def test_recent_visits_have_not_had_their_days() -> None:
    old = [Gap(days=10, came_back=True)] * 2 + [Gap(days=400, came_back=False)] * 8
    recent = [Gap(days=5, came_back=False)] * 30
    found, naive = come_back_rate([*old, *recent]), 2 / 40
    assert found.rate.value == pytest.approx(0.2)
    assert found.rate.value > 3 * naive
    assert found.watched_count == 10
    said = Speaker().say(found.says()[0])
    assert "Within 30 days" in said
    assert "2 of 40, of which 10 have had their days" in said


@given(
    gaps=st.lists(st.tuples(st.integers(0, 90), st.booleans()), min_size=1, max_size=25),
    at=st.integers(0, 24),
)
@settings(max_examples=60, deadline=None)
def test_a_come_back_instead_of_none_never_lowers_the_rate(gaps, at) -> None:
    place = at % len(gaps)
    calm = [Gap(days=d, came_back=b and n != place) for n, (d, b) in enumerate(gaps)]
    back = [Gap(days=d, came_back=b or n == place) for n, (d, b) in enumerate(gaps)]
    assert come_back_rate(back).rate.value >= come_back_rate(calm).rate.value - 1e-12
    rate = come_back_rate(calm).rate
    assert 0.0 <= rate.low <= rate.value <= rate.high <= 1.0


def test_mean_repairs_are_found_again_and_bursts_widen_the_band() -> None:
    even = mean_cumulative(drawn(1, [2.0] * 60)).at(1000.0)
    uneven = mean_cumulative(drawn(1, [0.2] * 45 + [7.4] * 15)).at(1000.0)
    assert even.holds(2.0)
    assert uneven.holds(2.0)
    assert uneven.half_width > 1.5 * even.half_width


def test_a_heater_watched_late_counts_only_while_it_was_watched() -> None:
    late = History(heater="late", repairs=(700.0,), entered=600.0, until=1000.0)
    found = mean_cumulative([*drawn(2, [0.0] * 4), late])
    assert found.at_risk.tolist() == [5.0]
    assert found.at(1000.0).value == pytest.approx(0.2)
    assert found.at(10.0).value == 0.0


def test_a_trend_is_seen_both_ways() -> None:
    worse = [1000 * (1 - 0.7**n) for n in range(1, 12)]
    assert laplace_trend(worse, until=1000.0) > 2.0
    assert laplace_trend([1000 - each for each in worse], until=1000.0) < -2.0
    assert abs(laplace_trend([100.0 * n for n in range(1, 10)], until=1000.0)) < 0.1
    with pytest.raises(Declined):
        laplace_trend([5.0, 9.0])


def test_a_troublemaker_is_named_and_luck_seldom_is() -> None:
    fleet = [*drawn(5, [1.5] * 40), History(heater="bad", repairs=tuple(range(550, 960, 40)), until=1000.0)]
    found = troublemakers(fleet)
    assert [each.heater for each in found] == ["bad"]
    said = " ".join(Speaker().say(each) for each in found[0].says())
    assert "Repairs: 11, where 1.5 would be usual" in said
    assert "closer and closer together" in said
    named = sum(len(troublemakers(drawn(seed, [1.5] * 25))) for seed in range(40))
    assert named <= 0.5 * 40


@pytest.mark.parametrize(
    ("ask", "error", "words"),
    [
        (lambda: come_back_rate([]), Declined, "no visit yet"),
        (lambda: come_back_rate([Gap(days=-1, came_back=True)]), Refusal, "from nought up"),
        (lambda: History(heater="aft", repairs=(), until=0.0), Refusal, "watched for some time"),
        (lambda: History(heater="aft", repairs=(9.0,), until=5.0), Refusal, "outside of the time"),
        (lambda: mean_cumulative([]), Declined, "too few heaters"),
        (lambda: troublemakers([History(heater="aft", repairs=(), until=5.0)]), Declined, "too few heaters"),
    ],
)
def test_what_cannot_be_is_refused(ask, error, words) -> None:
    with pytest.raises(error) as refused:
        ask()
    assert words in Speaker().say(refused.value.message)

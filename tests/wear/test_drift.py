"""Drift: a step is no trend, two readings promise little, and the day of the limit is held as promised."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lightoff.ground.errors import Declined, Refusal
from lightoff.texts import Speaker
from lightoff.wear.cusum import cusum, readings_to_alarm
from lightoff.wear.drift import Departure, Drift, drift

BEGIN = date(2021, 3, 1)


def series(values, *, every: int = 180, doubt: float = 1.0) -> list[Departure]:
    return [
        Departure(taken_on=BEGIN + timedelta(days=every * at), value=float(v), standard_uncertainty=doubt)
        for at, v in enumerate(values)
    ]


def of(kept: list[Departure], **more) -> Drift:
    return drift(
        kept,
        reading="stack temperature",
        dimension="temperature_difference",
        **{"serviced_on": BEGIN, **more},
    )


def said(found: Drift, today: date | None = None) -> str:
    return " ".join(Speaker().say(each) for each in found.says(today or found.last_on))


def test_a_steady_rise_is_a_trend_and_not_a_step() -> None:
    found = of(series([0, 5, 10, 15, 20, 25, 30, 35]), limit=50.0)
    assert found.changed_on is None
    assert found.is_drifting
    assert found.per_year.value == pytest.approx(5 * 365.25 / 180)
    assert found.reach is not None
    assert found.reach.line == BEGIN + timedelta(days=1800)
    assert "drifts by 10.1\u00a0±" in said(found)
    assert "reaches its limit about 3 February 2026" in said(found)


def test_a_step_is_told_and_the_trend_begins_after_it() -> None:
    found = of(series([0, 0.4, -0.3, 0.2, 0.1, 9, 9.3, 8.8, 9.1]), limit=30.0)
    assert found.changed_on == BEGIN + timedelta(days=900)
    assert not found.is_drifting
    assert "took a step up, first seen on 18 August 2023" in said(found)


def test_a_step_goes_the_way_that_the_sums_call() -> None:
    """Falling readings that an igniter, changed unsaid, ended: no step down is first seen where they rise."""
    fallen = [
        Departure(taken_on=BEGIN + timedelta(days=d), value=v, standard_uncertainty=0.225)
        for d, v in ((0, 9.62), (205, 9.22), (297, 9.22), (552, 8.77), (643, 9.70))
    ]
    fallen += [
        Departure(taken_on=BEGIN + timedelta(days=d), value=v, standard_uncertainty=0.5)
        for d, v in ((877, 9.72), (886, 9.68))
    ]
    found = of(fallen)
    assert found.change.side == "fall"
    assert found.changed_on is None or found.changed_on < BEGIN + timedelta(days=643)
    assert "step down, first seen on" not in said(found)


def test_a_change_is_put_where_its_sum_began() -> None:
    found = cusum([0.0, 0.0, -1.0, 2.0, 2.0, 3.0, 3.0], head_start=0.0)
    assert (found.alarm_at, found.began_at, found.side) == (5, 3, "rise")
    assert found.rises[:6] == (0.0, 0.0, 0.0, 1.5, 3.0, 5.5)
    mirrored = cusum([0.0, 0.0, 1.0, -2.0, -2.0, -3.0], head_start=0.0)
    assert (mirrored.alarm_at, mirrored.began_at, mirrored.side) == (5, 3, "fall")


def test_without_scatter_the_intervals_are_those_of_the_uncertainties() -> None:
    found = of(series([0, 1, 2, 3, 4], doubt=2.0))
    days = 180.0 * np.arange(5)
    square = ((days - days.mean()) ** 2).sum()
    assert not found.is_scattered
    assert found.per_year.half_width == pytest.approx(1.959964 * 2.0 / np.sqrt(square) * 365.25)
    level = 1.959964 * 2.0 * np.sqrt(1 / 5 + 360.0**2 / square)
    assert found.level.half_width == pytest.approx(level)


def test_before_the_service_nothing_counts() -> None:
    kept = series([40, 42, 0, 0.5, 0.2])
    found = of(kept, serviced_on=kept[2].taken_on)
    assert found.reading_count == 3
    assert found.first_on == kept[2].taken_on


def test_one_reading_or_readings_of_one_day_tell_no_trend() -> None:
    for kept in (series([3]), series([3, 4], every=0)):
        found = of(kept, limit=10.0)
        assert not found.is_drifting
        assert found.reach is not None
        assert found.reach.line is None
        assert found.reach.latest is None
        assert "tell no trend" in said(found)


def test_two_readings_promise_little() -> None:
    found = of(series([0, 2]), limit=8.0)
    assert not found.is_drifting
    assert found.reach is not None
    assert found.reach.latest is None
    assert found.reach.earliest is not None
    assert "the readings do not tell the latest" in said(found)


def test_a_limit_that_is_passed_is_reached_now() -> None:
    kept = series([0, 20, 40, 60])
    found = of(kept, limit=30.0)
    assert found.reach is not None
    assert found.reach.earliest == found.reach.line == found.reach.latest == kept[-1].taken_on


@pytest.mark.parametrize(
    ("today", "words"),
    [
        (date(2024, 6, 1), "reaches its limit about 10 November 2024; anywhere from"),
        (date(2024, 10, 1), "about 10 November 2024; it may have done so already, and will have by"),
        (date(2025, 1, 1), "On its trend it reached the limit about 10 November 2024, after the last"),
    ],
)
def test_a_day_that_has_passed_is_told_as_passed(today: date, words: str) -> None:
    found = of(series([0, 4, 8, 12, 16, 20], doubt=1.0), limit=30.0)
    assert found.reach is not None
    assert words in said(found, today)


def test_a_day_that_has_passed_is_only_a_may_be_where_the_trend_leads_elsewhere() -> None:
    found = of(series([10, 9.8], doubt=3.0), limit=12.0)
    assert "may reach its limit from" in said(found, found.last_on - timedelta(days=1))
    assert "may have reached its limit already" in said(found, found.last_on)


def test_a_trend_beyond_its_limit_says_trend_and_not_reading() -> None:
    assert "its trend stood at the limit or beyond" in said(of(series([0, 20, 40, 60]), limit=30.0))


def test_away_from_the_limit_it_is_never_reached() -> None:
    found = of(series([0, -5, -10, -15]), limit=30.0)
    assert found.reach is not None
    assert found.reach.line is None
    assert found.reach.earliest is None
    assert "does not reach its limit" in said(found)


@given(
    values=st.lists(st.floats(-20, 20), min_size=1, max_size=9),
    limit=st.floats(1, 60),
    doubt=st.floats(0.3, 5.0),
    every=st.integers(20, 300),
)
@settings(max_examples=60, deadline=None)
def test_falling_readings_mirror_rising_ones_and_order_does_not_matter(values, limit, doubt, every) -> None:
    kept = series(values, every=every, doubt=doubt)
    up = of(kept, limit=limit)
    down = of([replace(each, value=-each.value) for each in kept][::-1], limit=-limit)
    assert down.reach == up.reach
    assert down.changed_on == up.changed_on
    assert down.level.value == pytest.approx(-up.level.value, abs=1e-9)
    reach = up.reach
    assert reach is not None
    order = [each for each in (reach.earliest, reach.line, reach.latest) if each]
    assert order == sorted(order)
    assert reach.latest is None or reach.line is not None
    assert up.expected_on(up.last_on).value == pytest.approx(up.level.value)


@given(values=st.lists(st.floats(-20, 20), min_size=2, max_size=9), limit=st.floats(1, 60))
@settings(max_examples=30, deadline=None)
def test_a_nearer_limit_is_never_reached_later(values, limit) -> None:
    near, far = (of(series(values), limit=each).reach for each in (limit, limit * 1.5))
    assert near is not None
    assert far is not None
    for name in ("earliest", "line", "latest"):
        if getattr(far, name) is not None:
            assert getattr(near, name) <= getattr(far, name)


def test_the_day_of_the_limit_is_held_as_promised_at_three_readings_a_year() -> None:
    """300 heaters drift at a known pace, read three times a year for three years: 95 in 100 days are held."""
    draw = np.random.default_rng(3)
    held = steps = 0
    for _ in range(300):
        days = np.sort(draw.integers(0, 1095, size=9))
        kept = [
            Departure(
                taken_on=BEGIN + timedelta(days=int(day)),
                value=8.0 * day / 365.25 + 2.0 * draw.normal(),
                standard_uncertainty=2.0,
            )
            for day in days
        ]
        found = of(kept, limit=40.0)
        steps += found.changed_on is not None
        truth = BEGIN + timedelta(days=round(5 * 365.25))
        reach = found.reach
        assert reach is not None
        assert reach.earliest is not None
        held += reach.earliest <= truth and (reach.latest is None or truth <= reach.latest)
    assert held >= 0.91 * 300
    assert steps < 0.12 * 300


def test_without_a_change_alarms_are_rare_and_a_bad_service_shows_at_once() -> None:
    draw = np.random.default_rng(4)
    alarms = sum(of(series(draw.normal(size=12))).change.alarm_at is not None for _ in range(300))
    assert alarms < 0.15 * 300  # twelve readings, four to six years
    plain, started = (readings_to_alarm(shift=1.5, two_sided=False, head_start=each) for each in (0.0, 0.5))
    assert started < 0.65 * plain
    assert cusum([2.0, 2.0], head_start=0.5).alarm_at == 1
    assert cusum([2.0, 2.0], head_start=0.0).alarm_at is None


def test_another_unit_of_the_reading_changes_no_alarm() -> None:
    draw = np.random.default_rng(6)
    values = draw.normal(size=10) + np.linspace(0.0, 4.0, 10)
    one, other = of(series(values), limit=9.0), of(series(values * 60, doubt=60.0), limit=540.0)
    assert other.change.rises == pytest.approx(one.change.rises)
    assert other.change.falls == pytest.approx(one.change.falls)
    assert other.reach == one.reach
    assert max(one.change.rises) > 1.0
    assert len(one.change.rises) == 9  # each reading but the first


def test_run_lengths_agree_with_runs_played_out() -> None:
    draw = np.random.default_rng(8)
    lengths = []
    for _ in range(400):
        alarm = cusum(draw.normal(size=60) + 1.0, head_start=0.5).alarm_at
        lengths.append(60 if alarm is None else alarm + 1)
    expected = readings_to_alarm(shift=1.0, two_sided=False, head_start=0.5)
    assert np.mean(lengths) == pytest.approx(expected, abs=4 * np.std(lengths) / 20)
    with pytest.raises(ValueError, match="one side at a time"):
        readings_to_alarm(shift=1.0, head_start=0.5)


def test_scatter_beyond_the_instruments_widens_and_is_told() -> None:
    calm, wild = (of(series(np.array([0, 3, 1, 5, 2, 6, 4]) * k), limit=99.0) for k in (0.2, 2.0))
    assert not calm.is_scattered
    assert wild.is_scattered
    assert "scatters more than its instruments explain" in said(wild)


@pytest.mark.parametrize(
    ("ask", "error", "words"),
    [
        (lambda: of(series([1, 2], doubt=0.0)), Refusal, "uncertainty above nought"),
        (lambda: of(series([1, float("nan")])), Refusal, "needs a number"),
        (lambda: of(series([1, 2]), limit=0.0), Refusal, "above or below nought"),
        (lambda: of(series([1, 2]), serviced_on=date(2030, 1, 1)), Declined, "since the service"),
    ],
)
def test_what_cannot_be_is_refused(ask, error, words) -> None:
    with pytest.raises(error) as refused:
        ask()
    assert words in Speaker().say(refused.value.message)

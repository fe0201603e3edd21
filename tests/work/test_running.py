"""Run hours and starts between two moments: read, in between, or estimated, with an honest width."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.terms.visit import Reading, Stage
from lightoff.wear.lives import Clock
from lightoff.work.running import MONTH, USUAL_A_MONTH, Running, running

START = datetime(2025, 1, 1, tzinfo=UTC)


def read(months: float, value: str, *, key: str = "hour_meter", unit: str = "h") -> Reading:
    return Reading(
        id=f"r-{months}",
        heater="heater-1",
        key=key,
        stage=Stage.AS_FOUND,
        taken_at=START + months * MONTH,
        value=Decimal(value),
        unit=unit,
    )


def at(months: float) -> datetime:
    return START + months * MONTH


def hours(runs: Running, start: float, end: float) -> float:
    return runs.between(Clock.RUN_HOURS, at(start), at(end)).value


def test_between_two_readings_it_is_their_difference_without_doubt() -> None:
    runs = running([read(0, "1200"), read(12, "1740")])
    found = runs.between(Clock.RUN_HOURS, at(0), at(12))
    assert found.value == found.low == found.high == pytest.approx(540.0)


def test_a_moment_of_the_same_visit_is_that_reading() -> None:
    runs = running([read(0, "1200"), read(12, "1740")])
    later = runs.between(Clock.RUN_HOURS, at(0) + timedelta(hours=3), at(12) - timedelta(hours=2))
    assert later.value == later.low == pytest.approx(540.0)


def test_inside_a_gap_and_beyond_the_readings_it_is_an_estimate_at_its_own_pace() -> None:
    runs = running([read(0, "1200"), read(12, "1740")])
    half = runs.between(Clock.RUN_HOURS, at(3), at(9))
    assert half.value == pytest.approx(270.0)
    assert half.low < half.value < half.high
    assert hours(runs, 12, 18) == pytest.approx(270.0)
    assert hours(runs, -6, 0) == pytest.approx(270.0)


def test_a_new_meter_goes_on_from_the_old() -> None:
    runs = running([read(0, "1200"), read(6, "1500"), read(12, "180")])
    assert hours(runs, 0, 12) == pytest.approx(480.0)


def test_without_a_counter_it_is_the_usual_and_wide() -> None:
    found = running([]).between(Clock.STARTS, at(0), at(10))
    assert found.value == pytest.approx(10 * USUAL_A_MONTH[Clock.STARTS])
    assert found.high / found.low > 10.0
    months = running([]).between(Clock.MONTHS, at(0), at(10))
    assert months.value == months.low == months.high == pytest.approx(10.0)


def test_hours_may_be_read_in_another_unit() -> None:
    runs = running([read(0, "0"), read(12, "30000", unit="min")])
    assert hours(runs, 0, 12) == pytest.approx(500.0)


@given(
    st.lists(st.tuples(st.floats(0, 120), st.integers(0, 9000)), max_size=6, unique_by=lambda each: each[0]),
    st.tuples(st.floats(-20, 140), st.floats(0, 60), st.floats(0, 60)),
)
def test_time_adds_up_and_never_runs_backwards(
    shown: list[tuple[float, int]], span: tuple[float, float, float]
) -> None:
    runs = running([read(months, str(value)) for months, value in shown])
    start, first, second = span
    one, two = hours(runs, start, start + first), hours(runs, start + first, start + first + second)
    assert one >= 0.0
    assert two >= 0.0
    assert hours(runs, start, start + first + second) == pytest.approx(one + two, rel=1e-6, abs=1e-6)


@given(
    moments=st.lists(st.floats(0.0, 60.0), max_size=6),
    start=st.floats(-12.0, 72.0),
    end=st.floats(-12.0, 72.0),
)
def test_what_it_did_is_the_value_of_what_is_told_with_doubt(
    moments: list[float], start: float, end: float
) -> None:
    runs = running([read(each, f"{1000 + 40 * each:.1f}") for each in sorted(moments)])
    told = runs.between(Clock.RUN_HOURS, at(start), at(end)).value
    assert runs.did(Clock.RUN_HOURS, at(start), at(end)) == pytest.approx(told, rel=1e-6, abs=1e-6)

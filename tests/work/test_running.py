"""Run hours and starts between two moments: read, in between, or estimated, with an honest width."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.terms.trace import Channel, Trace
from lightoff.terms.visit import Reading, Stage
from lightoff.wear.lives import Clock
from lightoff.work.running import MONTH, USUAL_A_MONTH, USUAL_SPREAD, Evidence, Running, running

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


def log(start: float, end: float, *, hours: float, starts: int = 40, logged: float = 1.0) -> Trace:
    """A log of so many months; `logged` is the share of them that it recorded."""
    burned = Decimal(f"{hours * 3600:.1f}")
    return Trace(
        id=f"t-{start}",
        heater="heater-1",
        began_at=START + start * MONTH,
        ended_at=START + end * MONTH,
        channel=Channel.STACK_TEMPERATURE,
        logged_s=Decimal(f"{logged * (end - start) * MONTH.total_seconds():.1f}"),
        burned_s=burned,
        burned_low_s=burned * Decimal("0.98"),
        burned_high_s=burned * Decimal("1.02"),
        starts=starts,
        starts_unsure=1,
        row_count=100,
        bad_row_count=0,
        file_name="log.csv",
        sha256="0" * 64,
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


def test_a_log_alone_tells_its_own_span_as_surely_as_it_was_read() -> None:
    runs = running([], [log(0, 2, hours=300)])
    found = runs.between(Clock.RUN_HOURS, at(0), at(2))
    assert (found.value, found.low, found.high) == pytest.approx((300.0, 294.0, 306.0))
    starts = runs.between(Clock.STARTS, at(0), at(2))
    assert (starts.value, starts.low, starts.high) == pytest.approx((40.0, 39.0, 41.0))
    assert runs.run_hours.told_by(at(0), at(2)) == {Evidence.TRACE: pytest.approx(1.0)}


def test_what_was_not_logged_is_scaled_from_the_log_and_the_usual_with_its_doubt() -> None:
    runs = running([], [log(0, 2, hours=300)])
    year = runs.between(Clock.RUN_HOURS, at(-10), at(2))
    usual = USUAL_A_MONTH[Clock.RUN_HOURS]
    assert usual < runs.run_hours.pace < 150.0
    assert runs.run_hours.spread < USUAL_SPREAD
    assert year.value == pytest.approx(300.0 + 10.0 * runs.run_hours.pace)
    assert year.low < 300.0 + 10.0 * usual < year.high
    assert year.low < 300.0 + 10.0 * 150.0 < year.high
    assert runs.run_hours.told_by(at(-10), at(2))[Evidence.TRACE] == pytest.approx(1 / 6)


def test_the_more_of_a_year_is_logged_the_surer_the_rest() -> None:
    spreads = [
        running([], [log(0, months, hours=100 * months)]).run_hours.spread for months in (0.2, 2.0, 6.0, 12.0)
    ]
    assert spreads == sorted(spreads, reverse=True)
    assert running([], [log(0, 12, hours=1200)]).run_hours.pace == pytest.approx(100.0, rel=0.15)


def test_of_the_same_time_the_meter_wins() -> None:
    runs = running([read(0, "1000"), read(12, "1540")], [log(3, 5, hours=400)])
    found = runs.between(Clock.RUN_HOURS, at(0), at(12))
    assert found.value == found.low == found.high == pytest.approx(540.0)
    assert runs.run_hours.pace_by is Evidence.METER
    assert runs.run_hours.told_by(at(0), at(12)) == {Evidence.METER: pytest.approx(1.0)}


def test_beyond_the_meter_the_log_wins_over_the_pace() -> None:
    runs = running([read(0, "1000"), read(12, "1540")], [log(14, 16, hours=300), log(-6, -4, hours=10)])
    assert hours(runs, 14, 16) == pytest.approx(300.0)
    assert hours(runs, -6, -4) == pytest.approx(10.0)
    assert hours(runs, 12, 14) == pytest.approx(90.0)
    assert hours(runs, 0, 12) == pytest.approx(540.0)
    told = runs.run_hours.told_by(at(-6), at(16))
    assert told == pytest.approx({Evidence.METER: 12 / 22, Evidence.TRACE: 4 / 22, Evidence.ESTIMATE: 6 / 22})


def test_a_log_over_the_last_reading_counts_from_there_and_two_of_one_time_once() -> None:
    over = running([read(0, "1000"), read(12, "1540")], [log(11, 13, hours=200)])
    assert hours(over, 12, 13) == pytest.approx(100.0)
    twice = running([], [log(0, 2, hours=300), log(1, 3, hours=300)])
    assert hours(twice, 0, 3) == pytest.approx(450.0)


def test_in_the_gaps_of_a_log_it_ran_at_its_pace() -> None:
    runs = running([], [log(0, 2, hours=150, logged=0.5)])
    found = runs.between(Clock.RUN_HOURS, at(0), at(2))
    assert found.value == pytest.approx(150.0 + runs.run_hours.pace)
    assert found.low < 150.0 + 0.6 * runs.run_hours.pace
    assert found.high > 150.0 + 1.5 * runs.run_hours.pace


def test_a_summer_log_without_a_burn_does_not_stop_the_clock() -> None:
    runs = running([], [log(0, 1, hours=0, starts=0)])
    assert hours(runs, 0, 1) == 0.0
    assert runs.run_hours.pace > 2.0


@given(
    st.lists(
        st.tuples(st.floats(0, 40), st.floats(0.1, 5), st.floats(0, 400), st.floats(0.2, 1)), max_size=4
    ),
    st.lists(st.floats(0, 40), max_size=4, unique=True),
    st.tuples(st.floats(-10, 50), st.floats(0, 30), st.floats(0, 30)),
)
def test_with_logs_time_still_adds_up_and_the_doubt_holds_the_value(
    logs: list[tuple[float, float, float, float]], shown: list[float], span: tuple[float, float, float]
) -> None:
    readings = [read(each, f"{1000 + 40 * each:.1f}") for each in sorted(shown)]
    runs = running(readings, [log(a, a + b, hours=h, logged=share) for a, b, h, share in logs])
    start, first, second = span
    one, two = hours(runs, start, start + first), hours(runs, start + first, start + first + second)
    assert min(one, two) >= -1e-9
    assert hours(runs, start, start + first + second) == pytest.approx(one + two, rel=1e-6, abs=1e-6)
    found = runs.between(Clock.RUN_HOURS, at(start), at(start + first + second))
    assert found.low <= found.value <= found.high
    did = runs.did(Clock.RUN_HOURS, at(start), at(start + first + second))
    assert did == pytest.approx(found.value, rel=1e-6, abs=1e-6)

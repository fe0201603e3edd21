"""CUSUM run lengths and crossings of trends against published tables and other computations."""

from datetime import date, timedelta

import pytest

from lightoff.wear.cusum import cusum, readings_to_alarm
from lightoff.wear.drift import Departure, drift
from lightoff.wear.trend import student_quantile

MANUAL = "Manual of R's package spc, xcusum.arl"
BROOK = f"Brook and Evans 1972, as quoted in: {MANUAL}"
LUCAS = f"Lucas and Crosier 1982, table 1, as quoted in: {MANUAL}"
VANCE = f"Vance 1986, as quoted in: {MANUAL}"
SAS = f"SAS/QC manual 1999, as quoted in: {MANUAL}"
NODES = "Sixty nodes after Gauss and Legendre, worked out by itself"
AMPS = (4.02, 3.97, 3.95, 3.88, 3.86, 3.79, 3.77, 3.70)
AT_DAY = (0, 210, 395, 640, 820, 1050, 1260, 1490)


@pytest.mark.parametrize(
    ("row", "source", "scheme", "expected", "tolerance"),
    [
        (
            "W070 in control",
            BROOK,
            {"shift": 0.0, "slack": 0.5, "decision": 3.0, "two_sided": False},
            117.59,
            0.01,
        ),
        (
            "W070 shifted",
            BROOK,
            {"shift": 1.5, "slack": 0.5, "decision": 3.0, "two_sided": False},
            3.75,
            0.01,
        ),
        ("W071 at 0", LUCAS, {"shift": 0.0}, 168.0, 0.003 * 168),
        ("W071 at 0.25", LUCAS, {"shift": 0.25}, 74.2, 0.003 * 74.2),
        ("W071 at 0.5", LUCAS, {"shift": 0.5}, 26.6, 0.003 * 26.6),
        ("W071 at 1", LUCAS, {"shift": 1.0}, 8.38, 0.003 * 8.38),
        ("W071 at 2", LUCAS, {"shift": 2.0}, 3.34, 0.003 * 3.34),
        (
            "W073 at 0",
            VANCE,
            {"shift": 0.0, "slack": 0.0, "decision": 10.0, "two_sided": False},
            124.66,
            0.01,
        ),
        ("W073 at 1", VANCE, {"shift": 1.0, "slack": 0.0, "decision": 10.0, "two_sided": False}, 10.75, 0.01),
        ("W075 at 0", NODES, {"shift": 0.0, "decision": 5.0}, 465.44, 0.02),
        ("W075 at 1", NODES, {"shift": 1.0, "decision": 5.0}, 10.376, 0.02),
        (
            "W074",
            SAS,
            {"shift": 2.5, "slack": 0.25, "decision": 8.0, "two_sided": False},
            4.1500836225,
            1e-6,
        ),
        (
            "W074 head start",
            SAS,
            {"shift": 2.5, "slack": 0.25, "decision": 8.0, "two_sided": False, "head_start": 0.1 / 8.0},
            4.1061588131,
            1e-6,
        ),
    ],
    ids=lambda each: each if isinstance(each, str) else "",
)
def test_run_lengths(check, row, source, scheme, expected, tolerance) -> None:
    check(
        row,
        f"readings to an alarm ({', '.join(f'{k} {v:.3g}' for k, v in scheme.items())})",
        expected=expected,
        got=readings_to_alarm(**scheme),
        tolerance=tolerance,
        unit="readings",
        source=source,
        how_seen="computed" if source == NODES else "second-hand",
    )


def test_time_to_light(check_each) -> None:
    seconds = (28, 30, 29, 31, 27, 30, 29, 28, 31, 33, 34, 33, 35, 36, 34)
    sums = cusum([(each - 29.1) / 1.4 for each in seconds], head_start=0.0)
    assert sums.alarm_at is not None
    check_each(
        (
            ("W076", "visit of the first alarm, target 29.1 s, spread 1.4 s", 11, sums.alarm_at + 1, "visit"),
            ("W076 tenth", "sum of rises at the tenth", 3.143, sums.rises[9], "-"),
            ("W076 eleventh", "sum of rises at the eleventh", 6.143, sums.rises[10], "-"),
        ),
        columns=("unit",),
        tolerance=6e-4,
        source="Fifteen times made up for the comparison, by hand",
        how_seen="computed by hand",
    )


def test_igniter_current(check_each) -> None:
    """A day stands for an hour; uncertainties far below the scatter make it ordinary least squares."""
    begin = date(2020, 1, 1)
    kept = [
        Departure(taken_on=begin + timedelta(days=at), value=amps - 4.02, standard_uncertainty=1e-4)
        for at, amps in zip(AT_DAY, AMPS, strict=True)
    ]
    found = drift(kept, reading="igniter current", dimension="current", limit=3.40 - 4.02)
    assert found.changed_on is None
    assert found.reach is not None
    assert None not in (found.reach.line, found.reach.earliest, found.reach.latest)
    per_thousand = found.per_year.scaled(1000 / 365.25)
    check_each(
        (
            ("W079", "slope", -0.210213, per_thousand.value, 1e-4, "A/kh"),
            (
                "W079 se",
                "its standard error",
                0.007960,
                per_thousand.half_width / student_quantile(0.975, 6),
                1e-4,
                "A/kh",
            ),
            ("W080", "threshold reached", 2957.06, (found.reach.line - begin).days, 2e-4, "h"),
            ("W081 low", "its low end by Fieller", 2763.6, (found.reach.earliest - begin).days, 2e-4, "h"),
            ("W081 high", "its high end by Fieller", 3189.0, (found.reach.latest - begin).days, 2e-4, "h"),
        ),
        columns=("tolerance", "unit"),
        relative=True,
        source="Eight currents made up for the comparison; statsmodels 0.15.0 OLS, Fieller by hand",
        how_seen="computed with statsmodels 0.15.0",
    )


def test_students_law(check) -> None:
    for freedom, expected in ((1, 12.7062047), (2, 4.30265273), (6, 2.44691185), (30, 2.04227246)):
        check(
            f"student {freedom}",
            f"97.5 % quantile of Student's law, {freedom} degrees of freedom",
            expected=expected,
            got=student_quantile(0.975, freedom),
            tolerance=1e-7,
            relative=True,
            unit="-",
            source="scipy 1.17.1, stats.t.ppf",
            how_seen="computed with scipy 1.17.1",
        )

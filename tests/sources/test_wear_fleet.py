"""Curves of a fleet, repairs and their trend against other libraries and published examples."""

import numpy as np

from lightoff.wear.fleet import cumulative_incidence, survival_curve
from lightoff.wear.lives import Clock, Life
from lightoff.wear.repeats import Gap, History, come_back_rate, laplace_trend, mean_cumulative

HOURS = Clock.RUN_HOURS
DOCS = "Docs of the Python package reliability (2025)"
LIFELINES = "computed with lifelines 0.30.3"
MILE_FAILED = (5248, 7454, 16890, 17200, 38700, 45000, 49390, 69040, 72280, 131900)
MILE_GOOD = (
    3961, 4007, 4734, 6054, 7298, 10190, 23060, 27160, 28690, 37100, 40060, 45670, 53000, 67000, 69630, 77350,
    78470, 91680, 105700, 106300, 150400,
)  # fmt: skip
LATE_ROWS = (
    (820, True, 300), (1150, True, 700), (1410, True, 0), (960, False, 450), (1700, True, 1100),
    (2050, False, 1500), (1300, True, 200), (1880, False, 900),
)  # fmt: skip
SURGE = (13, 23, 30, 65, 10, 173, 106, 2, 261, 88, 247, 28, 143, 23, 80)
WEAR = (275, 147, 181, 212, 293, 245, 266)
GAPS = (
    (0, True), (3, True), (12, True), (28, True), (29, False), (45, True), (8, False), (15, False),
    (60, False), (90, False), (120, False), (33, False), (22, True), (200, False), (7, False), (31, True),
)  # fmt: skip
# Ages of repairs of five systems; the last of each is the end of watching.
SYSTEMS = ((5, 10, 15, 17), (6, 13, 17, 19), (12, 20, 25, 26), (13, 15, 24), (16, 22, 25, 28))
BETWEEN = (
    104, 131, 1597, 59, 4, 503, 157, 6, 118, 173, 114, 62, 101, 216, 106, 140, 1, 102, 3, 393, 96, 232, 89,
    61, 37, 293, 7, 165, 87, 99,
)  # fmt: skip


def test_thirty_one_lives(check_each) -> None:
    rows = [Life.failed_at(each, clock=HOURS) for each in MILE_FAILED]
    rows += [Life.good_at(each, clock=HOURS) for each in MILE_GOOD]
    steps = survival_curve(rows).steps
    at = steps.at(72280)
    hazard = float(steps.cumulative_hazard[list(steps.ages).index(49390)])
    check_each(
        (
            (
                "W017",
                "exp of minus the cumulative hazard at 49390",
                0.692768,
                np.exp(-hazard),
                "second-hand",
                DOCS,
            ),
            ("W018 share", "share still good at 72280", 0.539715, at.value, LIFELINES, DOCS),
            ("W018 low", "its low end, Greenwood, log-log", 0.28262638, at.low, LIFELINES, DOCS),
            ("W018 high", "its high end", 0.74008767, at.high, LIFELINES, DOCS),
        ),
        columns=("how_seen", "source"),
        tolerance=1e-6,
        unit="-",
    )


def test_late_entry(check_each) -> None:
    rows = [
        Life(clock=HOURS, left=end, right=end if failed else None, entered=entry)
        for end, failed, entry in LATE_ROWS
    ]
    curve = survival_curve(rows)
    at = curve.steps.at(1410)
    check_each(
        (
            ("W038", "share still good at 1410", 0.32, at.value),
            ("W038 low", "its low end, Greenwood, log-log", 0.04274877, at.low),
            ("W038 high", "its high end", 0.66242606, at.high),
            ("W038 at risk", "at risk at 1410", 3, curve.at_risk(1410)),
        ),
        tolerance=1e-7,
        unit="-",
        source="Eight lives with late entry, made up for the comparison",
        how_seen=f"{LIFELINES}; the share with surpyval 0.25 too",
    )


def test_two_causes(check) -> None:
    rows = [Life.failed_at(each, clock=Clock.STARTS, cause="surge") for each in SURGE]
    rows += [Life.failed_at(each, clock=Clock.STARTS, cause="wear") for each in WEAR]
    rows += [Life(clock=Clock.STARTS, left=300, count=8)]
    found = cumulative_incidence(rows)
    for age, surge, wear in ((100, 1 / 3, 0.0), (200, 13 / 30, 2 / 30), (299, 0.5, 7 / 30)):
        for cause, expected in (("surge", surge), ("wear", wear)):
            check(
                f"W031 {cause} at {age}",
                f"share that failed of {cause} by {age} kilocycles",
                expected=expected,
                got=found.at(age)[cause],
                tolerance=1e-7,
                unit="-",
                source="Meeker and Escobar's device G",
                how_seen=f"{LIFELINES}, Aalen and Johansen",
            )


# Kilometres of 38 shock absorbers, and the mode of failure, nought where it was still good.
SHOCKS = (
    (6700, 1), (6950, 0), (7820, 0), (8790, 0), (9120, 2), (9660, 0), (9820, 0), (11310, 0), (11690, 0),
    (11850, 0), (11880, 0), (12140, 0), (12200, 1), (12870, 0), (13150, 2), (13330, 0), (13470, 0),
    (14040, 0), (14300, 1), (17520, 1), (17540, 0), (17890, 0), (18450, 0), (18960, 0), (18980, 0),
    (19410, 0), (20100, 2), (20100, 0), (20150, 0), (20320, 0), (20900, 2), (22700, 1), (23490, 0),
    (26510, 1), (27410, 0), (27490, 1), (27890, 0), (28100, 0),
)  # fmt: skip


def test_shock_absorbers_by_mode_of_failure(check_each) -> None:
    rows = [
        Life.failed_at(km, clock=HOURS, cause=f"mode {mode}") if mode else Life.good_at(km, clock=HOURS)
        for km, mode in SHOCKS
    ]
    found = cumulative_incidence(rows)
    assert found.failures == {"mode 1": 7, "mode 2": 4}
    one, two = (found.share(cause, 20_000) for cause in found.by_cause)
    late = found.share("mode 1", 28_000)
    check_each(
        (
            ("W031 mode 1", "share that failed of mode 1 by 20,000 km", 0.149747, one.value),
            ("W031 mode 2", "share that failed of mode 2 by 20,000 km", 0.066500, two.value),
            ("W031 low", "low end, mode 1, log-log", 0.04548738, one.low),
            ("W031 high", "high end, mode 1, log-log", 0.31139417, one.high),
            ("W031 low 2", "low end, mode 2, log-log", 0.01147038, two.low),
            ("W031 high 2", "high end, mode 2, log-log", 0.19313169, two.high),
            ("W031 late low", "low end, mode 1, by 28,000 km", 0.17787929, late.low),
            ("W031 late high", "high end, mode 1, by 28,000 km", 0.74600613, late.high),
        ),
        tolerance=1e-6,
        unit="-",
        source="Shock absorbers of Meeker and Escobar (38 units, two modes)",
        how_seen=f"{LIFELINES}, Aalen and Johansen; rows as remembered, total and modes as counted there",
    )


def test_come_backs(check_each) -> None:
    rate = come_back_rate([Gap(days=days, came_back=back) for days, back in GAPS]).rate
    check_each(
        (
            ("W068", "come back within 30 days", 0.3583333333, rate.value),
            ("W068 low", "its low end", 1 - 0.83493761, rate.low),
            ("W068 high", "its high end", 1 - 0.33580034, rate.high),
        ),
        tolerance=1e-7,
        unit="-",
        source="Sixteen gaps made up for the comparison, same-day ones set to half a day",
        how_seen=LIFELINES,
    )


def test_five_systems(check_each) -> None:
    found = mean_cumulative(
        [
            History(heater=str(at), repairs=tuple(map(float, ages)), until=float(end))
            for at, (*ages, end) in enumerate(SYSTEMS)
        ]
    )
    how = "computed with surpyval 0.25"
    check_each(
        (
            ("W063 at 20", "repairs by 20", 2.33333, found.at(20).value, "second-hand"),
            ("W063 at 25", "repairs by 25", 3.66667, found.at(25).value, "second-hand"),
            ("W067 at 10", "robust standard deviation at 10", 0.35777088, found.standard_deviation[2], how),
            ("W067 at 25", "robust standard deviation at 25", 0.38103174, found.standard_deviation[-1], how),
            ("W067 low", "low end at 25, on the logarithm", 2.99100049, found.at(25).low, how),
            ("W067 high", "high end at 20, on the logarithm", 3.36383471, found.at(20).high, how),
        ),
        columns=("how_seen",),
        tolerance=1e-5,
        unit="per system",
        source=f"{DOCS}, Mean cumulative function; its own variance is not the robust one",
    )


def test_a_trend_of_repairs(check) -> None:
    check(
        "W061",
        "Laplace's U of thirty times between repairs",
        expected=2.409,
        got=laplace_trend(np.cumsum(BETWEEN).tolist()),
        tolerance=5e-4,
        unit="-",
        source=f"{DOCS}, ROCOF",
        how_seen="second-hand",
    )

"""Fits of lives against published examples and other libraries: censoring, late entry, intervals, two clocks.

The fits are made by surpyval, so nothing here was computed with it: scipy 1.17.1 (its own laws, a search that
asks no slopes, the profile's root) or lifelines 0.30.3 alone.
"""

import math

import pytest

from lightoff.wear.clocks import weigh_two_clocks
from lightoff.wear.fitting import fit_lives
from lightoff.wear.laws import Law
from lightoff.wear.lives import Clock, Life, of_cause

HOURS = Clock.RUN_HOURS
NIST = "NIST/SEMATECH e-Handbook of Statistical Methods, section 8.4.1.3 (apr413)"
FANS = (
    "SAS/QC RELIABILITY, getting started, 70 diesel fans; result as cited in scipy's tests of censored fits"
)
CAGES = "Meeker and Escobar's bearing cages (1703 units, 6 failures)"
MILES = "Data set of the docs of the Python package reliability, Kaplan-Meier page; root of the likelihood"
DEVICE_G = "Meeker and Escobar's device G"
LATE = "Eight lives with late entry, made up for the comparison; scipy 1.17.1, lifelines 0.30.3"
INSPECTED = "Fifteen lives by inspection, made up for the comparison; scipy 1.17.1, lifelines 0.30.3"


def lives(failed, good, clock=HOURS):
    return [Life.failed_at(each, clock=clock) for each in failed] + [
        Life.good_at(each, clock=clock) for each in good
    ]


NIST_LIVES = lives((54, 187, 216, 240, 244, 335, 361, 373, 375, 386), (500,) * 10)
# (hours, number still good, number failed)
FAN_ROWS = (
    (450, 0, 1), (460, 1, 0), (1150, 0, 2), (1560, 1, 0), (1600, 0, 1), (1660, 1, 0), (1850, 5, 0),
    (2030, 3, 0), (2070, 0, 2), (2080, 0, 1), (2200, 1, 0), (3000, 4, 0), (3100, 0, 1), (3200, 1, 0),
    (3450, 0, 1), (3750, 2, 0), (4150, 4, 0), (4300, 4, 0), (4600, 0, 1), (4850, 4, 0), (5000, 3, 0),
    (6100, 3, 1), (6300, 1, 0), (6450, 2, 0), (6700, 1, 0), (7450, 1, 0), (7800, 2, 0), (8100, 2, 0),
    (8200, 1, 0), (8500, 3, 0), (8750, 2, 1), (9400, 1, 0), (9900, 1, 0), (10100, 3, 0), (11500, 1, 0),
)  # fmt: skip
CAGE_GOOD = (
    (50, 288), (150, 148), (250, 124), (350, 111), (450, 106), (550, 99), (650, 110), (750, 114), (850, 119),
    (950, 127), (1050, 123), (1150, 93), (1250, 47), (1350, 41), (1450, 27), (1550, 11), (1650, 6), (1850, 1),
    (2050, 2),
)  # fmt: skip
CAGE_FAILED = (230, 334, 423, 990, 1009, 1510)
MILE_FAILED = (5248, 7454, 16890, 17200, 38700, 45000, 49390, 69040, 72280, 131900)
MILE_GOOD = (
    3961, 4007, 4734, 6054, 7298, 10190, 23060, 27160, 28690, 37100, 40060, 45670, 53000, 67000, 69630, 77350,
    78470, 91680, 105700, 106300, 150400,
)  # fmt: skip
# Kilocycles at which device G failed by a surge or by wear; eight were good at 300.
SURGE = (13, 23, 30, 65, 10, 173, 106, 2, 261, 88, 247, 28, 143, 23, 80)
WEAR = (275, 147, 181, 212, 293, 245, 266)
# (age at its end, failed, age at entry)
LATE_ROWS = (
    (820, True, 300), (1150, True, 700), (1410, True, 0), (960, False, 450), (1700, True, 1100),
    (2050, False, 1500), (1300, True, 200), (1880, False, 900),
)  # fmt: skip


@pytest.fixture(scope="module")
def nist():
    return fit_lives(NIST_LIVES)


def test_twenty_units_censored_at_500_hours(check_each, nist) -> None:
    seen = "second-hand"
    computed = "computed with scipy 1.17.1"
    check_each(
        (
            ("W001", "characteristic life", 606.528, nist.best_life, 5e-5, True, "h", seen),
            ("W002", "shape", 1.7208, nist.best_shape, 1e-4, False, "-", seen),
            ("W005", "Akaike's measure", 154.27, nist.akaike, 0.01, False, "-", seen),
            ("W008 low", "shape, low end, profile", 0.90565, nist.shape().low, 1e-4, True, "-", computed),
            ("W008 high", "shape, high end, profile", 2.88574, nist.shape().high, 1e-4, True, "-", computed),
            ("W009 low", "life, low end, profile", 437.557, nist.life().low, 1e-4, True, "h", computed),
            ("W009 high", "life, high end, profile", 1118.878, nist.life().high, 1e-4, True, "h", computed),
            (
                "W010",
                "lasts 200 h from 300",
                0.657411,
                nist.chance_to_last(300, 200),
                1e-5,
                False,
                "-",
                computed,
            ),
        ),
        columns=("tolerance", "relative", "unit", "how_seen"),
        source=NIST,
    )


def late(ignored: bool = False):
    return [
        Life(clock=HOURS, left=end, right=end if failed else None, entered=0 if ignored else entry)
        for end, failed, entry in LATE_ROWS
    ]


def found_failed(rows):
    return [Life(clock=HOURS, left=left, right=right, count=count) for left, right, count in rows]


FANS_LIVES = [Life.failed_at(h / 1000, clock=HOURS) for h, _, failed in FAN_ROWS for _ in range(failed)]
FANS_LIVES += [Life(clock=HOURS, left=h / 1000, count=good) for h, good, _ in FAN_ROWS if good]
CAGE_LIVES = lives(CAGE_FAILED, ()) + [Life(clock=HOURS, left=h, count=n) for h, n in CAGE_GOOD]
BY_CAUSE = [Life.failed_at(k, clock=Clock.STARTS, cause="surge") for k in SURGE]
BY_CAUSE += [Life.failed_at(k, clock=Clock.STARTS, cause="wear") for k in WEAR]
BY_CAUSE += [Life(clock=Clock.STARTS, left=300, count=8)]
INSPECTED_LIVES = found_failed(((0, 400, 1), (400, 800, 3), (800, 1200, 5), (1200, None, 6)))
TUBE_LIVES = found_failed(
    (
        (0, 1, 1),
        (1, 2, 2),
        (2, 3, 2),
        (3, None, 95),
        (0, 1, 2),
        (1, 2, 3),
        (2, None, 95),
        (0, 1, 1),
        (1, None, 99),
    )
)
TUBES = "Meeker and Escobar's heat exchangers (300 tubes, three plants)"
SCIPY = "computed with scipy 1.17.1"
BOTH = "computed with scipy 1.17.1 and lifelines 0.30.3"
# id, lives, how many they are, characteristic life and shape, relative tolerance, unit, source, how seen
FITS = (
    ("W012", FANS_LIVES, 70, 26.2968, 1.0584, 1e-4, "kh", FANS, "second-hand"),
    ("W020", CAGE_LIVES, 1703, 11792.18, 2.035319, 1e-4, "h", CAGES, SCIPY),
    (
        "W019", lives(MILE_FAILED, MILE_GOOD), 31, 134651.04, 1.1544267, 1e-6, "mi", MILES,
        "computed with scipy 1.17.1; lifelines equal",
    ),
    ("W032", of_cause(BY_CAUSE, "surge"), 30, 449.470, 0.670991, 1e-4, "kc", DEVICE_G, SCIPY),
    ("W033", of_cause(BY_CAUSE, "wear"), 30, 340.384, 4.33728, 1e-4, "kc", DEVICE_G, SCIPY),
    ("W036", late(), 8, 1616.492, 2.583038, 1e-5, "h", LATE, BOTH),
    ("W037 entry ignored", late(ignored=True), 8, 1772.875, 3.195971, 1e-4, "h", LATE, BOTH),
    (
        "W041", INSPECTED_LIVES, 15, 1247.970, 2.483182, 1e-5, "h", INSPECTED,
        "computed with scipy 1.17.1; lifelines 0.30.3 within 1e-6",
    ),
    ("W044", TUBE_LIVES, 300, 23.61992, 1.345515, 1e-4, "y", TUBES, SCIPY),
)  # fmt: skip


@pytest.mark.parametrize(
    ("id_", "rows", "count", "life", "shape", "tolerance", "unit", "source", "how_seen"),
    FITS,
    ids=[each[0] for each in FITS],
)
def test_life_and_shape_as_published_or_by_other_libraries(
    check_each, id_, rows, count, life, shape, tolerance, unit, source, how_seen
) -> None:
    fit = fit_lives(rows)
    assert fit.life_count == count
    check_each(
        (
            (id_, "characteristic life", life, fit.best_life, unit),
            (f"{id_} shape", "shape", shape, fit.best_shape, "-"),
        ),
        columns=("unit",),
        tolerance=tolerance,
        relative=True,
        source=source,
        how_seen=how_seen,
    )


def test_both_causes_outlived(check) -> None:
    surge, wear = (fit_lives(of_cause(BY_CAUSE, cause)) for cause in ("surge", "wear"))
    check(
        "W034",
        "both outlived to 200",
        expected=0.5064,
        got=surge.survival(200) * wear.survival(200),
        tolerance=2e-4,
        relative=True,
        unit="-",
        source=DEVICE_G,
        how_seen=SCIPY,
    )


def test_six_failures_among_1703(check_each) -> None:
    fit = fit_lives(CAGE_LIVES)
    tenth = fit.age_by_which(0.10)
    check_each(
        (
            ("W021", "age by which a tenth has failed", 3903.127, tenth.value, 1e-4, "h"),
            ("W022 low", "its low end, likelihood ratio", 2094.2808, tenth.low, 1e-3, "h"),
            ("W022 high", "its high end, likelihood ratio", 22144.427, tenth.high, 1e-3, "h"),
            ("W023", "share failed by 8000 h", 0.364907, 1.0 - fit.survival(8000), 1e-4, "-"),
        ),
        columns=("tolerance", "unit"),
        relative=True,
        source=CAGES,
        how_seen=SCIPY,
    )


def test_hours_and_starts_together(check_each) -> None:
    hours = (620, 480, 910, 350, 760, 540, 300, 880, 430, 700)
    starts = (1400, 2300, 700, 2900, 1200, 1900, 3300, 800, 2500, 1300)
    good = (4, 7)

    def on(clock, ages):
        return [Life(clock=clock, left=a, right=None if i in good else a) for i, a in enumerate(ages)]

    both = weigh_two_clocks(on(HOURS, hours), on(Clock.STARTS, starts)).per_unit
    check_each(
        (
            ("W053", "hours that a start is worth", 0.24557, both.value),
            ("W053 low", "its low end", 0.2198, both.low),
            ("W053 high", "its high end", 0.2845, both.high),
        ),
        tolerance=2e-4,
        unit="h/start",
        source="Ten lives on two clocks, made up for the comparison; density per hour along each path",
        how_seen="computed with scipy 1.17.1",
    )


# Lives that are drawn late, exact, good and found failed at once.
MIXED = (
    # entered, left, right
    (0, 310, 310), (120, 540, 540), (400, 655, 655), (0, 800, None), (250, 900, 1100), (0, 300, 700),
    (600, 1200, 1200), (500, 1500, None), (0, 450, 450), (700, 950, 1300), (0, 1000, None), (90, 220, 220),
)  # fmt: skip


def test_every_kind_of_life_at_once(check_each) -> None:
    rows = [Life(clock=HOURS, entered=a, left=b, right=c) for a, b, c in MIXED]
    weibull, log_normal = fit_lives(rows), fit_lives(rows, law=Law.LOG_NORMAL)
    check_each(
        (
            ("W036 mixed", "characteristic life", 843.92845909, weibull.best_life, "h"),
            ("W036 mixed shape", "shape", 1.4689678, weibull.best_shape, "-"),
            ("W036 mixed likelihood", "log-likelihood", -50.669454483933, weibull.log_likelihood, "-"),
            ("W036 mixed median", "median, log-normal", math.exp(6.42946839), log_normal.best_life, "h"),
            ("W036 mixed sigma", "sigma, log-normal", 0.74050718, 1.0 / log_normal.best_shape, "-"),
            ("W036 mixed log-normal", "log-likelihood", -50.249348624709, log_normal.log_likelihood, "-"),
        ),
        columns=("unit",),
        tolerance=2e-6,
        relative=True,
        source="Twelve lives of every kind, made up for the comparison; scipy 1.17.1",
        how_seen=SCIPY,
    )

"""Two sets of sixty lives against R and lifelines: late entry, and all kinds of inspection.

Lives and results stand in the reference tests of surpyval 0.25 (drawn by it with a seed); each result is by
the named program, and was read there.
"""

import math

import pytest

from lightoff.wear.fitting import fit_lives
from lightoff.wear.laws import Law
from lightoff.wear.lives import Clock, Life

HOURS = Clock.RUN_HOURS
# age at entry, age at the end, failed
LATE = (
    (1.3, 2.9, True), (2.7, 4.73, True), (1.4, 2.64, True), (0.3, 7.02, True), (1.3, 2.36, False),
    (0.8, 1.98, True), (1.5, 2.43, True), (0.7, 2.89, True), (1.8, 5.36, True), (1.7, 5.54, True),
    (2.7, 3.97, True), (0.8, 1.67, True), (0.3, 2.69, True), (0.1, 4.12, True), (1.9, 2.39, True),
    (2.9, 7.17, False), (1.9, 3.82, True), (2.2, 4.39, True), (2.2, 6.82, False), (2.4, 2.95, True),
    (1.6, 2.27, True), (2.1, 3.71, True), (0.6, 3.84, True), (0.2, 2.74, True), (0.1, 2.42, False),
    (0.4, 2.08, True), (1.0, 2.39, True), (0.4, 3.42, True), (0.6, 10.57, False), (2.8, 4.08, True),
    (0.6, 6.5, True), (2.7, 4.61, True), (2.6, 3.81, False), (0.6, 4.12, True), (1.2, 1.31, True),
    (2.0, 3.74, True), (1.9, 3.12, True), (2.6, 3.4, True), (1.4, 2.67, True), (2.4, 5.37, False),
    (1.0, 5.35, True), (1.6, 5.86, True), (2.9, 7.32, True), (0.5, 1.2, True), (2.0, 6.47, False),
    (0.7, 2.96, True), (2.3, 4.4, True), (2.8, 3.98, True), (2.0, 3.55, True), (0.2, 5.11, False),
    (1.5, 4.18, True), (0.4, 0.73, True), (2.7, 3.33, True), (1.9, 4.69, True), (0.3, 4.31, True),
    (1.0, 2.24, True), (0.0, 3.94, False), (0.7, 1.43, True), (1.3, 4.74, True), (3.0, 5.58, True),
)  # fmt: skip
# worked to, failed by; equal where exact, None where it never failed
LOOKED_AT = (
    (5.9, 7.6), (4.5, 5.8), (6.1, 8.2), (9.6, 12.5), (6.2, 8.1), (2.3, 3.9), (13.8, 16.5), (3.9, 6.2),
    (8.13, 8.13), (11.9, 14.3), (6.0, 8.2), (2.0, 4.3), (0.0, 1.9), (8.1, 9.5), (8.4, 9.7), (13.8, 16.3),
    (7.6, 9.8), (2.0, 3.8), (0.0, 1.7), (11.7, 13.6), (7.6, 10.4), (11.9, 13.7), (3.7, 6.4), (4.1, 6.4),
    (1.5, 3.7), (9.7, 11.6), (8.3, 9.9), (16.2, None), (15.9, None), (5.7, 8.1), (5.6, 8.2), (8.2, 10.1),
    (1.8, 3.8), (8.0, 10.1), (7.8, 10.3), (9.5, 11.8), (5.41, 5.41), (8.04, 8.04), (9.5, 11.9), (6.1, 8.2),
    (4.4, 5.8), (10.3, 12.3), (5.8, 8.1), (0.0, 2.3), (5.65, 5.65), (8.4, 9.9), (3.7, 6.5), (6.4, 8.4),
    (8.2, 9.9), (3.6, 5.9), (11.5, 14.2), (13.7, 13.7), (6.0, 8.3), (16.2, None), (8.1, 10.4), (3.6, 5.7),
    (9.7, 12.2), (6.42, 6.42), (5.7, 7.7), (11.99, 11.99),
)  # fmt: skip
LIFELINES = "lifelines 0.30.3, stored in surpyval 0.25 tests/reference/data/py_lifelines.json"
FITDISTRPLUS = (
    "R 4.3.3, fitdistrplus 1.1.11, stored in surpyval 0.25 tests/reference/data/r_fitdistrplus.json"
)


def late_lives():
    return [Life(clock=HOURS, entered=a, left=b, right=b if failed else None) for a, b, failed in LATE]


def looked_at_lives():
    return [Life(clock=HOURS, left=a, right=b) for a, b in LOOKED_AT]


@pytest.mark.parametrize(
    ("row", "lives", "law", "life", "shape", "log_likelihood", "source"),
    [
        ("W039", late_lives, Law.WEIBULL, 3.9947049322, 1.6162390467, -101.12767632, LIFELINES),
        (
            "W039 log-normal",
            late_lives,
            Law.LOG_NORMAL,
            math.exp(1.1667496627),
            1.0 / 0.6197942695,
            -100.76943967,
            LIFELINES,
        ),
        ("W042", looked_at_lives, Law.WEIBULL, 9.3077680117, 2.1291670059, -126.12219302, FITDISTRPLUS),
        (
            "W042 log-normal",
            looked_at_lives,
            Law.LOG_NORMAL,
            math.exp(1.9798866400),
            1.0 / 0.5867085617,
            -130.10126353,
            FITDISTRPLUS,
        ),
    ],
)
def test_sixty_lives(check, row, lives, law, life, shape, log_likelihood, source) -> None:
    rows = lives()
    assert len(rows) == 60
    fit = fit_lives(rows, law=law)
    for what, expected, got, tolerance in (
        ("life", life, fit.best_life, 1e-4),
        ("shape", shape, fit.best_shape, 1e-4),
        ("log-likelihood", log_likelihood, fit.log_likelihood, 1e-7),
    ):
        check(
            f"{row} {what}",
            f"{what}, {law.value}, sixty lives",
            expected=expected,
            got=got,
            tolerance=tolerance,
            relative=True,
            unit="-",
            source=source,
            how_seen="second-hand",
        )

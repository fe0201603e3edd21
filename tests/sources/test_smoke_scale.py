"""The steps of the smoke scale and the curves of light and colour, against what is written of them.

Each row: value, source, place, how it was seen. What is from memory proves nothing by itself; it holds the
code to what the project says.
"""

from __future__ import annotations

import numpy as np
import pytest

from lightoff.spot.light import lightness_and_colour, linear_light
from lightoff.spot.reader import DARKEST, STEPS_OF_WHITE

# ASTM D2156: number, light reflected as a share of the white paper's. From memory, unverified: ten spots from
# 0 to 9 in equal steps of reflected light, 9 gives back a tenth.
STEPS = [(0, 1.0), (1, 0.9), (2, 0.8), (5, 0.5), (9, 0.1)]


@pytest.mark.parametrize(("number", "share"), STEPS)
def test_each_number_is_a_tenth_of_the_light(number: int, share: float) -> None:
    assert STEPS_OF_WHITE * (1.0 - share) == pytest.approx(number)
    assert number <= DARKEST


# IEC 61966-2-1 by its formula, worked by hand: byte 128 is 0.50196;
# ((0.50196 + 0.055) / 1.055)^2.4 = 0.21586. Byte 10 is 0.039216, still on the straight part:
# 0.039216 / 12.92 = 0.0030353. Tolerance: the digits written.
CURVE = [(0, 0.0), (10, 0.0030353), (128, 0.21586), (255, 1.0)]


@pytest.mark.parametrize(("byte", "light"), CURVE)
def test_the_curve_of_srgb(byte: int, light: float) -> None:
    assert float(linear_light(np.array([byte], dtype=np.uint8))[0]) == pytest.approx(light, rel=2e-5)


# CIE L*: a grey that gives back 18.4 % of the light is close to L* 50 (L* = 116 * 0.184^(1/3) - 16 = 49.98).
# sRGB's pure blue is widely tabled as L* 32.30, a* 79.19, b* -107.86 (D65); from memory.
def test_lightness_of_a_middle_grey() -> None:
    lightness, green_red, blue_yellow = lightness_and_colour(np.full(3, 0.184))
    assert lightness == pytest.approx(49.98, abs=0.01)
    assert (green_red, blue_yellow) == (pytest.approx(0.0, abs=1e-9), pytest.approx(0.0, abs=1e-9))


def test_blue_lies_far_on_the_blue_side() -> None:
    found = lightness_and_colour(np.array([0.0, 0.0, 1.0]))
    assert found == pytest.approx((32.30, 79.19, -107.86), abs=0.15)

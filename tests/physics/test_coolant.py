"""Water with glycol: laws of its heat and of what a freeze point tells."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.physics.coolant import USUAL_GLYCOL_FRACTION, glycol_fraction_of, heat_j_m3_k


@given(st.floats(0.0, 0.59), st.floats(0.001, 0.01))
def test_glycol_holds_less_heat_than_water(fraction: float, more: float) -> None:
    assert heat_j_m3_k(fraction + more) < heat_j_m3_k(fraction)


@given(st.floats(205.0, 273.0), st.floats(0.01, 1.0))
def test_a_lower_freeze_point_never_tells_less_glycol(freeze_k: float, lower: float) -> None:
    assert 0.0 <= glycol_fraction_of(freeze_k) <= glycol_fraction_of(freeze_k - lower) <= 0.6


def test_water_has_none() -> None:
    assert glycol_fraction_of(273.15) == 0.0
    assert glycol_fraction_of(239.1) == pytest.approx(USUAL_GLYCOL_FRACTION)

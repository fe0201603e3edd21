"""Numbers and the scale on which each is compared."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from one_heater import SHELF

from lightoff.plant.quantities import COLUMN, QUANTITIES, compared, uncompared

DERIVED = {"fuel_flow", "warm_up_rate"}
"""Worked out of several readings of the catalogue."""


def test_every_quantity_is_a_number_of_the_catalogue_in_its_own_dimension() -> None:
    for key, quantity in QUANTITIES.items():
        if key in DERIVED:
            continue
        entry = SHELF.catalogue.entries[key]
        assert not entry.states
        assert entry.dimension == quantity.dimension, key


def test_every_quantity_says_how_well_it_repeats() -> None:
    assert all(quantity.slack > 0.0 for quantity in QUANTITIES.values())


@given(value=st.floats(0.0, 1e6), key=st.sampled_from(sorted(QUANTITIES)))
def test_the_scale_of_comparison_turns_round(value: float, key: str) -> None:
    row = np.zeros(len(QUANTITIES))
    row[COLUMN[key]] = value
    back = uncompared(compared(row)[COLUMN[key]], COLUMN[key])
    # Beyond its ceiling every number is one and the same.
    assert float(back) == pytest.approx(min(value, QUANTITIES[key].ceiling), rel=1e-9, abs=1e-9)


def test_the_scale_rises_with_the_number() -> None:
    low, high = compared(np.array([np.full(len(QUANTITIES), 0.01), np.full(len(QUANTITIES), 0.02)]))
    assert np.all(high > low)

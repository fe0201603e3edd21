"""Places by size are those of a stable sort."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import array_shapes, arrays

from lightoff.faultfinding.ordering import places_by_size

TWELVE = st.integers(-(10**9), 10**9).map(lambda each: each * 1e-3)
"""Numbers that are the same or differ within twelve digits."""


@given(arrays(np.float64, array_shapes(min_dims=2, max_dims=2, max_side=40), elements=TWELVE))
def test_as_a_stable_sort(rows: np.ndarray) -> None:
    assert np.array_equal(places_by_size(rows), np.argsort(rows, axis=1, kind="stable"))


def test_equals_stand_by_place_and_what_differs_by_less_counts_as_equal() -> None:
    rows = np.array([[0.0, -0.0, np.inf, -1.0, -np.inf, 1.0, 1.0, -1.0]])
    assert places_by_size(rows).tolist() == [[4, 3, 7, 0, 1, 5, 6, 2]]
    many = np.concatenate([np.full(2000, 3.0 + 2**-51), np.full(2000, 3.0)])[None, :]
    assert places_by_size(many).tolist() == [list(range(4000))]
    assert places_by_size(np.zeros((0, 0))).shape == (0, 0)

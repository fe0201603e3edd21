"""Rows of numbers in their order."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightoff.physics.uncertain import Array


def places_by_size(rows: Array) -> NDArray[np.intp]:
    """The places of each row's numbers, the least first, (n, k); those alike to some twelve digits by place.

    As a stable `argsort`, at several times its speed: each number is sorted as a whole one that bears its
    place in its last bits. No row may hold what is no number.
    """
    place_bits = np.int64((1 << int(rows.shape[1]).bit_length()) - 1)
    keys = (rows + 0.0).view(np.int64)  # a nought added leaves no negative one
    keys ^= (keys >> 63) & np.iinfo(np.int64).max  # negative ones run the other way as whole numbers
    keys &= ~place_bits
    keys |= np.arange(rows.shape[1])
    keys.sort(axis=1)
    return np.asarray(keys & place_bits, dtype=np.intp)

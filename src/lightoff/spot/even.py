"""The light on a sheet of paper: a smooth surface through its clean part."""

from __future__ import annotations

import numpy as np

from lightoff.spot.light import Floats
from lightoff.spot.regions import Mask

_TURNS = 4
# A pixel further off than this many spreads is no clean paper: a mark, a fold, the spot's own edge.
# Basis: common practice, no source (2.5 to 3 is usual).
_SPREADS = 2.5
_MOST_POINTS = 4000


def spread_of(values: Floats) -> float:
    """The standard deviation that most of the values have, from their median distance to the median."""
    return float(1.4826 * np.median(np.abs(values - np.median(values))))


def paper_light(light: Floats, clean: Mask) -> Floats:
    """The light on the paper at each pixel, as its clean pixels tell.

    A polynomial of second order in the logarithm, fitted robustly: a lamp to one side, a lens that darkens
    its corners and a sheet that lies aslant are all close to it, the edge of a shadow is not.

    Parameters: `light` (h, w), above nought where `clean` (h, w) holds. Returns: (h, w).
    """
    rows, columns = np.nonzero(clean)
    step = max(1, len(rows) // _MOST_POINTS)
    rows, columns = rows[::step], columns[::step]
    values = np.log(np.maximum(light[rows, columns], 1e-6))
    height, width = light.shape
    terms = _terms(2.0 * columns / width - 1.0, 2.0 * rows / height - 1.0)
    kept = np.ones(len(values), dtype=bool)
    factors: Floats = np.zeros(terms.shape[1])
    for _ in range(_TURNS):
        factors = np.asarray(np.linalg.lstsq(terms[kept], values[kept], rcond=None)[0])
        off = values - terms @ factors
        spread = max(spread_of(off[kept]), 1e-4)
        kept = np.abs(off - np.median(off[kept])) <= _SPREADS * spread
    y, x = np.mgrid[:height, :width]
    everywhere = _terms((2.0 * x / width - 1.0).ravel(), (2.0 * y / height - 1.0).ravel())
    return np.asarray(np.exp(everywhere @ factors).reshape(height, width))


def _terms(x: Floats, y: Floats) -> Floats:
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=1)

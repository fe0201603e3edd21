"""Water with glycol: the heat that a volume of it holds, and how much glycol a freeze point tells."""

from __future__ import annotations

import numpy as np

from lightoff.physics.uncertain import Real, plain

USUAL_GLYCOL_FRACTION = 0.5
WATER_J_M3_K, HALF_J_M3_K = 4.10e6, 3.72e6
"""Heat held by a volume of water, and of half glycol, at 60 to 70 degC: at 70 degC water has 4.097e6, half
propylene glycol 3.732e6, half ethylene glycol 3.663e6. Basis: melinder_2010."""
# Mass fraction of glycol, and freeze point halfway between those of ethylene and propylene glycol, K.
# Basis: melinder_2010 (20, 30 and 50 %), crc_102 (20 % ethylene glycol).
_FRACTIONS = (0.0, 0.2, 0.3, 0.5)
_FREEZE_K = (273.15, 265.5, 259.5, 239.1)
_MOST_FRACTION = 0.6


def heat_j_m3_k(glycol_fraction: Real) -> Real:
    """Heat held by a volume of coolant, J/(m3 K); `glycol_fraction` by mass, 0 to 0.6.

    A straight line, which lies within 3 % of either glycol from 20 to 70 degC. Basis: melinder_2010.
    """
    share = np.asarray(glycol_fraction, dtype=np.float64) / 0.5
    return plain(WATER_J_M3_K + (HALF_J_M3_K - WATER_J_M3_K) * share)


def glycol_fraction_of(freeze_point_k: float) -> float:
    """Glycol by mass that a freeze point tells, whichever glycol it is: within 0.03, at most 0.6.

    Basis: melinder_2010, crc_102.
    """
    slope = (_FRACTIONS[-1] - _FRACTIONS[-2]) / (_FREEZE_K[-1] - _FREEZE_K[-2])
    if freeze_point_k < _FREEZE_K[-1]:
        return min(_FRACTIONS[-1] + slope * (freeze_point_k - _FREEZE_K[-1]), _MOST_FRACTION)
    return float(np.interp(-freeze_point_k, [-each for each in _FREEZE_K], _FRACTIONS))

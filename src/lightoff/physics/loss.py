"""Where the heat of the fuel goes that does not reach the water: up the flue."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.physics.burn import Products
from lightoff.physics.gas import CO_HEATING_VALUE_J_MOL
from lightoff.physics.uncertain import Array, Real, plain

# Siegert's formula for fuel oil, O2 in per cent and loss in per cent of net heat. Basis: siegert.
_SIEGERT_A2, _SIEGERT_B, _SIEGERT_AIR = 0.68, 0.007, 21.0
_SIEGERT_SPLIT_K = 350.0 + 273.15
_SIEGERT_GAP_BELOW, _SIEGERT_GAP_ABOVE = 0.006, 0.010


@dataclass(frozen=True, slots=True, kw_only=True)
class FlueLoss:
    """Heat that leaves with the gas of one kilogram of fuel, J/kg."""

    dry_gas_j_kg: Real
    vapour_j_kg: Real
    unburned_j_kg: Real

    @property
    def total_j_kg(self) -> Real:
        """Sensible heat of dry gas and vapour and what carbon monoxide still holds; not the latent heat."""
        return self.dry_gas_j_kg + self.vapour_j_kg + self.unburned_j_kg


def flue_loss(gas: Products, rises_j_mol: Mapping[str, Array]) -> FlueLoss:
    """Sensible and unburned loss of the products.

    Parameters: `rises_j_mol` heat to warm a mole of each gas of `gas.parts()` from the intake's to the
    stack's temperature. Valid for: a stack above the dew point; below it part of the vapour's latent
    heat is won back and the loss is smaller than this.
    """
    warmed = {name: moles * rises_j_mol[name] for name, moles in gas.parts()}
    vapour = warmed.pop("H2O")
    return FlueLoss(
        dry_gas_j_kg=sum(warmed.values(), 0.0),
        vapour_j_kg=vapour,
        unburned_j_kg=gas.co * CO_HEATING_VALUE_J_MOL,
    )


def siegert_loss_fraction(
    *, o2_dry_fraction: Real, stack_temperature_k: Real, combustion_air_temperature_k: Real
) -> Real:
    """Flue loss of fuel oil by Siegert's formula, as a share of net heat: an alarm beside the exact loss.

    Valid for: fuel oil, condensation and carbon monoxide left out; its heat capacity is fixed, so that
    above 350 degC it reads some 0.3 to 0.5 points low. Basis: siegert.
    """
    o2 = np.asarray(o2_dry_fraction, dtype=np.float64)
    rise = np.asarray(stack_temperature_k, dtype=np.float64) - combustion_air_temperature_k
    return plain(0.01 * rise * (_SIEGERT_A2 / (_SIEGERT_AIR - 100.0 * o2) + _SIEGERT_B))


def siegert_gap_allowed_fraction(stack_temperature_k: Real) -> Real:
    """How far the exact loss and Siegert's may differ: 0.6 points up to 350 degC, 1.0 above.

    Common practice, no source; the two differ by up to 0.1 below 300 degC and 0.5 at 450 degC on diesel.
    """
    hot = np.asarray(stack_temperature_k, dtype=np.float64) > _SIEGERT_SPLIT_K
    return plain(np.where(hot, _SIEGERT_GAP_ABOVE, _SIEGERT_GAP_BELOW))

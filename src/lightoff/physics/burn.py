"""From gas readings to the air ratio and the products, atom by atom.

One kilogram of fuel with carbon c, sulphur s, water w and need of oxygen o (mol) burns with lambda times
its dry air A = o / 0.2095. With y the dry share of a gas, V the dry gas (mol) and V0 that at lambda one:

    V (1 - CO/2) = V0 + (lambda - 1) A              (carbon monoxide spares half its oxygen)
    O2 V = (lambda - 1) o + CO V / 2
    (CO2 + CO) V = c + 0.0004 lambda A

Basis: element_balance. Valid for: lambda of one and more, and products that hold no hydrogen and no soot,
so up to some 2 per cent of carbon monoxide.
"""

from __future__ import annotations

import numpy as np

from lightoff.ground.errors import Declined
from lightoff.ground.message import Amount, message
from lightoff.ground.values import dataclass
from lightoff.physics.air import DRY_AIR, OXYGEN_IN_DRY_AIR_FRACTION
from lightoff.physics.fuel import Fuel, Stoichiometry
from lightoff.physics.gas import ARGON_IN_ATMOSPHERIC_NITROGEN_FRACTION
from lightoff.physics.uncertain import Array, Real, plain

_AIR_O2 = OXYGEN_IN_DRY_AIR_FRACTION
HIGHEST_O2_FRACTION = 0.175
"""Dry O2 above which a sample is mostly air and every figure from it blows up. Common practice, no source."""
HIGHEST_CO_FRACTION = 0.02
"""CO above which unmeasured hydrogen and soot spoil the balance. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Products:
    """What leaves the flue for one kilogram of fuel, mol/kg; each a float or an array.

    `n2_ar` is atmospheric nitrogen: nitrogen with the argon of the air.
    """

    o2: Real
    co2: Real
    co: Real
    n2_ar: Real
    so2: Real
    h2o: Real

    def parts(self) -> tuple[tuple[str, Real], ...]:
        """Each gas by its name in `gas.NASA_COEFFICIENTS`; sulphur dioxide only where there is any."""
        dry = (("O2", self.o2), ("CO2", self.co2), ("CO", self.co), ("N2+Ar", self.n2_ar))
        water = ("H2O", self.h2o)
        some = np.count_nonzero(self.so2) if np.ndim(self.so2) else self.so2
        return (*dry, water, ("SO2", self.so2)) if some else (*dry, water)

    @property
    def dry_mol_kg(self) -> Real:
        """All but water."""
        return self.o2 + self.co2 + self.co + self.n2_ar + self.so2

    @property
    def wet_mol_kg(self) -> Real:
        """All."""
        return self.dry_mol_kg + self.h2o

    def dry_fractions(self) -> dict[str, Real]:
        """Mole shares of the dry gas by species; they add up to one."""
        return self._shares(self.dry_mol_kg)

    def wet_fractions(self) -> dict[str, Real]:
        """Mole shares of the gas as it is in the pipe, water included."""
        total = self.wet_mol_kg
        return self._shares(total) | {"H2O": self.h2o / total}

    def _shares(self, total: Real) -> dict[str, Real]:
        argon = ARGON_IN_ATMOSPHERIC_NITROGEN_FRACTION
        return {
            "O2": self.o2 / total,
            "CO2": self.co2 / total,
            "CO": self.co / total,
            "N2": self.n2_ar * (1.0 - argon) / total,
            "Ar": self.n2_ar * argon / total,
            "SO2": self.so2 / total,
        }


def air_ratio_from_dry_o2(s: Stoichiometry, *, o2_dry_fraction: Real, co_dry_fraction: Real = 0.0) -> Real:
    """Air ratio lambda from oxygen of dried gas, exact with carbon monoxide in it.

    Parameters: shares of dry gas, floats or arrays. The short form 20.95 / (20.95 - O2) reads 0.02 too
    high at 5 % for diesel. Basis: element_balance.
    """
    free = o2_dry_fraction - 0.5 * co_dry_fraction
    gas = s.dry_gas_mol_kg / (1.0 - 0.5 * co_dry_fraction - free / _AIR_O2)
    return 1.0 + free * gas / s.oxygen_mol_kg


def air_ratio_from_wet_o2(
    s: Stoichiometry, *, o2_wet_fraction: Real, co_dry_fraction: Real = 0.0, water_per_dry_air: Real = 0.0
) -> Real:
    """Air ratio lambda from oxygen read in the wet gas, as a sensor in the pipe reads it.

    Parameters: `water_per_dry_air` mol of water with a mol of dry air. Taking a wet reading for a dry
    one gives 1.29 where 1.33 is true. Basis: element_balance.
    """
    spared = 1.0 - 0.5 * co_dry_fraction
    y, half_co, a = o2_wet_fraction, 0.5 * co_dry_fraction, s.air_mol_kg
    water = s.water_mol_kg + water_per_dry_air * a
    excess = (y * water + (y - half_co) * s.dry_gas_mol_kg / spared) / (
        s.oxygen_mol_kg - (y - half_co) * a / spared - y * water_per_dry_air * a
    )
    return 1.0 + excess


def air_ratio_from_co2(s: Stoichiometry, *, co2_dry_fraction: Real, co_dry_fraction: Real = 0.0) -> Real:
    """Air ratio lambda from carbon dioxide of dried gas.

    Two air ratios give one CO2, one of them rich: only with oxygen beside it is the answer sure.
    Basis: element_balance.
    """
    g = (co2_dry_fraction + co_dry_fraction) / (1.0 - 0.5 * co_dry_fraction)
    x, a = DRY_AIR["CO2"], s.air_mol_kg
    return 1.0 + (s.carbon_mol_kg + x * a - g * s.dry_gas_mol_kg) / (a * (g - x))


def products(
    s: Stoichiometry, *, air_ratio: Real, co_dry_fraction: Real = 0.0, water_per_dry_air: Real = 0.0
) -> Products:
    """What a kilogram of fuel leaves in the flue, mol/kg. Basis: element_balance."""
    air = air_ratio * s.air_mol_kg
    dry = (s.dry_gas_mol_kg + air - s.air_mol_kg) / (1.0 - 0.5 * co_dry_fraction)
    co = co_dry_fraction * dry
    damp = np.ndim(water_per_dry_air) or water_per_dry_air
    return Products(
        o2=(air_ratio - 1.0) * s.oxygen_mol_kg + 0.5 * co,
        co2=s.carbon_mol_kg - co + DRY_AIR["CO2"] * air,
        co=co,
        n2_ar=(DRY_AIR["N2"] + DRY_AIR["Ar"]) * air,
        so2=s.sulphur_mol_kg,
        h2o=s.water_mol_kg + water_per_dry_air * air if damp else s.water_mol_kg,
    )


def co2_expected_fraction(fuel: Fuel, *, o2_dry_fraction: Real, co_dry_fraction: Real = 0.0) -> Real:
    """Carbon dioxide that this fuel must show beside this oxygen, dry: CO2max (1 - O2 / 20.95).

    With `co_dry_fraction` the line shifts as carbon burns only to monoxide. The air's own 0.04 % is in
    the fuel's largest and fades less than the line says: up to 0.04 points at high oxygen.
    Basis: element_balance (the Ostwald line).
    """
    free = np.asarray(o2_dry_fraction, dtype=np.float64) - 0.5 * np.asarray(co_dry_fraction)
    largest = fuel.stoichiometry.largest_dry_co2_fraction
    whole = largest * (1.0 - 0.5 * np.asarray(co_dry_fraction) - free / _AIR_O2)
    return plain(whole - co_dry_fraction)


def co2_agreement_half_width(fuel: Fuel, *, o2_half_width: Real, co2_half_width: Real) -> Real:
    """How far measured CO2 may lie from the expected before the two contradict: the two widths added.

    Parameters: expanded uncertainties of the two instruments' classes, as shares.
    """
    slope = fuel.stoichiometry.largest_dry_co2_fraction / _AIR_O2
    return plain(np.asarray(co2_half_width, dtype=np.float64) + slope * np.asarray(o2_half_width))


def o2_expected_fraction(fuel: Fuel, *, co2_dry_fraction: Real) -> Real:
    """Dry oxygen that belongs to this dry carbon dioxide on the fuel's line of complete combustion."""
    largest = fuel.stoichiometry.largest_dry_co2_fraction
    return plain(_AIR_O2 * (1.0 - np.asarray(co2_dry_fraction, dtype=np.float64) / largest))


def co_air_free_fraction(*, co_fraction: Real, o2_fraction: Real, extrapolate: bool = False) -> Real:
    """Carbon monoxide as it would be without the excess air: CO x 20.95 / (20.95 - O2), both dry.

    Raises: Declined above 17.5 % of oxygen, where the correction blows up, unless `extrapolate`.
    Basis: cfr_40_60_284 (form of the correction), element_balance.

    >>> round(1e6 * co_air_free_fraction(co_fraction=80e-6, o2_fraction=0.07))
    120
    """
    return co_at_reference_o2_fraction(
        co_fraction=co_fraction, o2_fraction=o2_fraction, reference_o2_fraction=0.0, extrapolate=extrapolate
    )


def co_at_reference_o2_fraction(
    *,
    co_fraction: Real,
    o2_fraction: Real,
    reference_o2_fraction: float,
    air_o2_fraction: float = _AIR_O2,
    extrapolate: bool = False,
) -> Real:
    """Carbon monoxide at a chosen oxygen content: CO (air - reference) / (air - O2), all dry.

    Regulations put 20.9 or 21 % for `air_o2_fraction`. Raises: Declined above 17.5 % of oxygen, unless
    `extrapolate`. Basis: cfr_40_60_284.
    """
    o2 = np.asarray(o2_fraction, dtype=np.float64)
    if not extrapolate and np.any(o2 > HIGHEST_O2_FRACTION):
        raise Declined(
            message(
                "physics.o2_mostly_air",
                value=Amount(value=float(np.max(o2)), dimension="gas_fraction"),
                high=Amount(value=HIGHEST_O2_FRACTION, dimension="gas_fraction"),
            )
        )
    return plain(_at_reference(co_fraction, o2, reference_o2_fraction, air_o2_fraction))


def _at_reference(co: Real, o2: Array, reference: float, air: float) -> Array:
    return np.asarray(co * (air - reference) / (air - o2), dtype=np.float64)


def fuel_factor(*, o2_dry_fraction: Real, co2_dry_fraction: Real, co_dry_fraction: Real = 0.0) -> Real:
    """Fo = (20.9 - O2 + CO/2) / (CO2 + CO), dry: the same for every dilution, so it tells the fuel.

    About 1.34 for diesel; 1.26 to 1.41 for a distillate oil. It cannot see air leaking into the sample.
    Basis: epa_method_3b (equations 3B-3 and 3B-4).
    """
    return (0.209 - o2_dry_fraction + 0.5 * co_dry_fraction) / (co2_dry_fraction + co_dry_fraction)

"""What is in the tank: composition, heat, density, viscosity, and the air it needs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import field
from typing import Literal

import numpy as np

from lightoff.ground.errors import Declined, Refusal, Refusals
from lightoff.ground.message import Amount, message
from lightoff.ground.values import dataclass
from lightoff.physics.air import DRY_AIR, DRY_AIR_MOLAR_MASS_KG_MOL, OXYGEN_IN_DRY_AIR_FRACTION
from lightoff.physics.fuel_problems import faults_of, heat_fault
from lightoff.physics.gas import (
    MOLAR_MASS_KG_MOL,
    NORMAL_MOLAR_VOLUME_M3_MOL,
    WATER_LATENT_HEAT_J_MOL,
)
from lightoff.physics.uncertain import Array, Real, plain

HeatingBasis = Literal["gross", "net"]
FUEL_REFERENCE_TEMPERATURE_K = 288.15


@dataclass(frozen=True, slots=True, kw_only=True)
class Sourced:
    """A value, its expanded uncertainty between batches (coverage 2), and the key of its source."""

    value: float
    half_width: float = 0.0
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ViscosityPoint:
    """A kinematic viscosity read at one temperature."""

    temperature_k: float
    viscosity_m2_s: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Fuel:
    """One fuel. Mass shares add up to one; one heating value is held and the other derived.

    `heating_value_j_kg` is gross (higher) or net (lower) as `heating_value_basis` says.
    `cloud_point_caution` is a text or a key of texts, never a typical value: the tank's own cloud
    point is asked for or tested. `sulphur_most_fraction` is the most sulphur that law or standard lets
    this fuel hold; it serves for the acid dew point alone and is in no balance.
    """

    key: str
    name: str
    carbon_fraction: Sourced
    hydrogen_fraction: Sourced
    oxygen_fraction: Sourced
    sulphur_fraction: Sourced
    moisture_fraction: Sourced
    density_15c_kg_m3: Sourced
    heating_value_j_kg: Sourced
    heating_value_basis: HeatingBasis
    viscosity_points: tuple[ViscosityPoint, ViscosityPoint] | None = None
    cloud_point_caution: str | None = None
    sulphur_most_fraction: Sourced | None = None
    stoichiometry: Stoichiometry = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        faults = faults_of(self)
        if faults:
            raise faults[0] if len(faults) == 1 else Refusals(tuple(faults))
        object.__setattr__(
            self,
            "stoichiometry",
            stoichiometry_of(
                hydrogen_fraction=self.hydrogen_fraction.value,
                oxygen_fraction=self.oxygen_fraction.value,
                sulphur_fraction=self.sulphur_fraction.value,
                moisture_fraction=self.moisture_fraction.value,
                carbon_fraction=self.carbon_fraction.value,
            ),
        )

    @property
    def latent_heat_j_kg(self) -> float:
        """Heat in the water vapour of a kilogram of fuel: gross less net heating value, at 25 degC."""
        return self.stoichiometry.water_mol_kg * WATER_LATENT_HEAT_J_MOL

    @property
    def gross_heating_value_j_kg(self) -> float:
        """Higher heating value: the water of the fuel condensed, at 25 degC."""
        held = self.heating_value_j_kg.value
        return held if self.heating_value_basis == "gross" else held + self.latent_heat_j_kg

    @property
    def net_heating_value_j_kg(self) -> float:
        """Lower heating value: the water of the fuel left as vapour, at 25 degC.

        Basis: codata_1989 (latent heat 44.004 kJ/mol, 2.4426 MJ/kg of water).
        """
        held = self.heating_value_j_kg.value
        return held if self.heating_value_basis == "net" else held - self.latent_heat_j_kg


@dataclass(frozen=True, slots=True, kw_only=True)
class Stoichiometry:
    """The atoms of one kilogram of fuel and the air that burns them just so, in mol/kg."""

    carbon_mol_kg: float
    sulphur_mol_kg: float
    water_mol_kg: float  # from hydrogen and moisture
    oxygen_mol_kg: float  # O2 to be brought by the air
    air_mol_kg: float  # dry air
    dry_gas_mol_kg: float  # dry products at air ratio one

    @property
    def air_kg_kg(self) -> float:
        """Dry air by mass for one kilogram of fuel."""
        return self.air_mol_kg * DRY_AIR_MOLAR_MASS_KG_MOL

    @property
    def largest_dry_co2_fraction(self) -> float:
        """Carbon dioxide in the dry gas at air ratio one, the air's own included: the fuel's largest."""
        return (self.carbon_mol_kg + DRY_AIR["CO2"] * self.air_mol_kg) / self.dry_gas_mol_kg

    @property
    def dry_factor(self) -> float:
        """K in lambda = 1 + K O2 / (20.95 - O2), dry: dry products over air at air ratio one."""
        return self.dry_gas_mol_kg / self.air_mol_kg

    @property
    def wet_factor(self) -> float:
        """K for a wet oxygen reading in dry air: all products over air at air ratio one."""
        return (self.dry_gas_mol_kg + self.water_mol_kg) / self.air_mol_kg

    @property
    def dry_gas_volume_m3_kg(self) -> float:
        """Dry products at air ratio one, at 0 degC and 101.325 kPa, for one kilogram of fuel."""
        return self.dry_gas_mol_kg * NORMAL_MOLAR_VOLUME_M3_MOL

    @property
    def wet_gas_volume_m3_kg(self) -> float:
        """All products at air ratio one in dry air, at 0 degC and 101.325 kPa, per kilogram of fuel."""
        return (self.dry_gas_mol_kg + self.water_mol_kg) * NORMAL_MOLAR_VOLUME_M3_MOL

    @property
    def fuel_factor(self) -> float:
        """Fo = (20.9 - O2) / CO2 of dry gas, the regulation's test of a reading against the fuel.

        At air ratio one, where it is 20.9 % over the largest CO2. Basis: epa_method_3b.
        """
        return 0.209 / self.largest_dry_co2_fraction


def stoichiometry_of(
    *,
    carbon_fraction: float,
    hydrogen_fraction: float,
    oxygen_fraction: float,
    sulphur_fraction: float = 0.0,
    moisture_fraction: float = 0.0,
) -> Stoichiometry:
    """Atoms of one kilogram of fuel and its air, from mass shares. Basis: element_balance, iupac_2021."""
    carbon = carbon_fraction / MOLAR_MASS_KG_MOL["C"]
    hydrogen = hydrogen_fraction / MOLAR_MASS_KG_MOL["H"]
    sulphur = sulphur_fraction / MOLAR_MASS_KG_MOL["S"]
    moisture = moisture_fraction / (2 * MOLAR_MASS_KG_MOL["H"] + MOLAR_MASS_KG_MOL["O"])
    oxygen = carbon + hydrogen / 4 + sulphur - oxygen_fraction / MOLAR_MASS_KG_MOL["O"] / 2
    air = oxygen / OXYGEN_IN_DRY_AIR_FRACTION
    return Stoichiometry(
        carbon_mol_kg=carbon,
        sulphur_mol_kg=sulphur,
        water_mol_kg=hydrogen / 2 + moisture,
        oxygen_mol_kg=oxygen,
        air_mol_kg=air,
        dry_gas_mol_kg=carbon + sulphur + air - oxygen,
    )


def largest_co2_half_width(fuel: Fuel) -> float:
    """Expanded uncertainty of the fuel's largest dry CO2, as a share, from its hydrogen and oxygen."""
    hydrogen, oxygen = fuel.hydrogen_fraction, fuel.oxygen_fraction
    moves = ((hydrogen.half_width, 0.0), (0.0, oxygen.half_width))
    here = fuel.stoichiometry.largest_dry_co2_fraction
    squares = 0.0
    for more_hydrogen, more_oxygen in moves:
        moved = stoichiometry_of(
            carbon_fraction=fuel.carbon_fraction.value - more_hydrogen - more_oxygen,
            hydrogen_fraction=hydrogen.value + more_hydrogen,
            oxygen_fraction=oxygen.value + more_oxygen,
            sulphur_fraction=fuel.sulphur_fraction.value,
            moisture_fraction=fuel.moisture_fraction.value,
        )
        squares += (moved.largest_dry_co2_fraction - here) ** 2
    return math.sqrt(squares)


def density_kg_m3(fuel: Fuel, temperature_k: Real) -> Real:
    """Density of the fuel at a temperature; a pump of fixed stroke delivers by it.

    Parameters: `temperature_k` 233 to 363 K (float or array). Raises: Declined outside it.
    Valid for: density at 15 degC of 610 to 1075 kg/m3; a biodiesel expands about 5 % faster than this
    petroleum form says (common practice, no source).
    Basis: astm_d1250 (rho = rho15 exp(-a dT (1 + 0.8 a dT)), a = K0/rho15^2 + K1/rho15).
    """
    t = np.asarray(temperature_k, dtype=np.float64)
    if np.any(~((t >= 233.0) & (t <= 363.15))):
        raise Declined(message("physics.fuel_density_range"))
    rho15 = fuel.density_15c_kg_m3.value
    expansion = _expansion_per_k(rho15)
    rise = t - FUEL_REFERENCE_TEMPERATURE_K
    return plain(rho15 * np.exp(-expansion * rise * (1.0 + 0.8 * expansion * rise)))


def _expansion_per_k(density_15c_kg_m3: float) -> float:
    """Basis: astm_d1250 (generalised products: gasolines, transition, jet fuels, fuel oils)."""
    rho = density_15c_kg_m3
    if rho < 770.3520:
        return 346.4228 / rho**2 + 0.4388 / rho
    if rho < 787.5195:
        return -0.00336312 + 2680.3206 / rho**2
    if rho < 838.3127:
        return 594.5418 / rho**2
    return 186.9696 / rho**2 + 0.48618 / rho


def _walther(viscosity_mm2_s: Array) -> Array:
    v = viscosity_mm2_s
    return np.log10(np.log10(v + 0.7 + np.exp(-1.47 - 1.84 * v - 0.51 * v * v)))


def _unwalther(w: Array) -> Array:
    """Viscosity from log log Z. Basis: astm_d341 (annex A1, the inverse for low viscosities)."""
    z = 10.0 ** (10.0**w) - 0.7
    return z - np.exp(-0.7487 - 3.295 * z + 0.6119 * z**2 - 0.3193 * z**3)


def viscosity_m2_s(fuel: Fuel, temperature_k: Real) -> Real:
    """Kinematic viscosity of the fuel at a temperature, through its two points.

    Parameters: `temperature_k` 233 to 423 K (float or array).
    Raises: Declined outside it, or for a fuel whose two points are not known.
    Valid for: above the cloud point only; wax makes the fuel far thicker than this says.
    Basis: astm_d341 (log10 log10 Z = A - B log10 T, with the low-viscosity terms).
    """
    t = np.asarray(temperature_k, dtype=np.float64)
    if fuel.viscosity_points is None:
        raise Declined(message("physics.viscosity_unknown", fuel=fuel.name))
    if np.any(~((t >= 233.0) & (t <= 423.15))):
        raise Declined(message("physics.viscosity_range"))
    first, second = fuel.viscosity_points
    x1, x2 = math.log10(first.temperature_k), math.log10(second.temperature_k)
    y1, y2 = (_walther(np.asarray(p.viscosity_m2_s * 1e6)) for p in (first, second))
    return plain(1e-6 * _unwalther(y1 + (y2 - y1) * (np.log10(t) - x1) / (x2 - x1)))


def blend(
    fuels: Sequence[Fuel],
    volume_fractions: Sequence[float],
    *,
    key: str,
    name: str,
    caution: str | None = None,
) -> Fuel:
    """A fuel mixed by volume at 15 degC, such as B20 or a winter blend.

    Composition and heat mix by mass, density by volume; viscosity mixes on the Walther scale by volume
    and is unknown if that of one part is. A caution of any part stays, unless `caution` replaces it.
    Raises: Refusal if the shares do not add up to one.
    Basis: element_balance (mass), astm_d7152 (viscosity).
    """
    shares = np.asarray(volume_fractions, dtype=np.float64)
    if len(fuels) != shares.size or not fuels or np.any(shares < 0) or abs(shares.sum() - 1.0) > 1e-9:
        raise Refusal(
            message("physics.blend_shares", value=Amount(value=float(shares.sum()), dimension="fraction")),
            field="volume_fractions",
        )
    masses = shares * np.array([fuel.density_15c_kg_m3.value for fuel in fuels])
    by_mass = masses / masses.sum()

    def mixed(weights: Array, entries: Sequence[Sourced]) -> Sourced:
        value = sum(w * entry.value for w, entry in zip(weights, entries, strict=True))
        width = math.sqrt(sum((w * entry.half_width) ** 2 for w, entry in zip(weights, entries, strict=True)))
        return Sourced(value=float(value), half_width=width, source="computed_blend")

    ceilings = [fuel.sulphur_most_fraction for fuel in fuels if fuel.sulphur_most_fraction]
    return Fuel(
        key=key,
        name=name,
        carbon_fraction=mixed(by_mass, [fuel.carbon_fraction for fuel in fuels]),
        hydrogen_fraction=mixed(by_mass, [fuel.hydrogen_fraction for fuel in fuels]),
        oxygen_fraction=mixed(by_mass, [fuel.oxygen_fraction for fuel in fuels]),
        sulphur_fraction=mixed(by_mass, [fuel.sulphur_fraction for fuel in fuels]),
        moisture_fraction=mixed(by_mass, [fuel.moisture_fraction for fuel in fuels]),
        density_15c_kg_m3=mixed(shares, [fuel.density_15c_kg_m3 for fuel in fuels]),
        heating_value_j_kg=mixed(by_mass, [_gross(fuel) for fuel in fuels]),
        heating_value_basis="gross",
        viscosity_points=_mixed_viscosity(fuels, shares),
        cloud_point_caution=caution
        or next((f.cloud_point_caution for f in fuels if f.cloud_point_caution), None),
        sulphur_most_fraction=mixed(by_mass, ceilings) if len(ceilings) == len(fuels) else None,
    )


def _gross(fuel: Fuel) -> Sourced:
    held = fuel.heating_value_j_kg
    return Sourced(value=fuel.gross_heating_value_j_kg, half_width=held.half_width, source=held.source)


def _mixed_viscosity(fuels: Sequence[Fuel], shares: Array) -> tuple[ViscosityPoint, ViscosityPoint] | None:
    if any(fuel.viscosity_points is None for fuel in fuels):
        return None

    def point(temperature_k: float) -> ViscosityPoint:
        parts = np.array([viscosity_m2_s(fuel, temperature_k) for fuel in fuels])
        mixed = _unwalther(np.asarray(np.dot(shares, _walther(parts * 1e6))))
        return ViscosityPoint(
            temperature_k=temperature_k, viscosity_m2_s=float(mixed) * 1e-6, source="computed_blend"
        )

    return point(293.15), point(313.15)


def fuel_from_data_sheet(
    *,
    key: str,
    name: str,
    density_15c_kg_m3: float,
    heating_value_j_kg: float,
    heating_value_basis: HeatingBasis,
    hydrogen_fraction: float,
    oxygen_fraction: float = 0.0,
    sulphur_fraction: float = 0.0,
    moisture_fraction: float = 0.0,
    carbon_fraction: float | None = None,
    viscosity_points: tuple[tuple[float, float], tuple[float, float]] | None = None,
    cloud_point_caution: str | None = None,
    source: str = "maker_data_sheet",
) -> Fuel:
    """A fuel built and checked from its supplier's data sheet; carbon is the rest where not given.

    `viscosity_points` are (temperature in K, viscosity in m2/s). Uncertainties are those to carry
    between batches: 1 % of heat, 0.5 point of hydrogen and oxygen where present, 1.5 % of density
    (common practice, no source). Raises: Refusal or Refusals naming every value that cannot be, among
    them a heating value that contradicts the composition by more than 8 %.
    Basis: element_balance; the cross-check of heat is `heat_from_composition_j_kg`.
    """
    if carbon_fraction is None:
        carbon_fraction = 1.0 - hydrogen_fraction - oxygen_fraction - sulphur_fraction - moisture_fraction

    def of(value: float, half_width: float = 0.0) -> Sourced:
        return Sourced(value=value, half_width=half_width, source=source)

    points = None
    if viscosity_points is not None:
        first, second = (
            ViscosityPoint(temperature_k=t, viscosity_m2_s=v, source=source) for t, v in viscosity_points
        )
        points = (first, second)
    fuel = Fuel(
        key=key,
        name=name,
        carbon_fraction=of(carbon_fraction, 0.005),
        hydrogen_fraction=of(hydrogen_fraction, 0.005),
        oxygen_fraction=of(oxygen_fraction, 0.005 if oxygen_fraction > 0.0 else 0.0),
        sulphur_fraction=of(sulphur_fraction),
        moisture_fraction=of(moisture_fraction),
        density_15c_kg_m3=of(density_15c_kg_m3, 0.015 * density_15c_kg_m3),
        heating_value_j_kg=of(heating_value_j_kg, 0.01 * heating_value_j_kg),
        heating_value_basis=heating_value_basis,
        viscosity_points=points,
        cloud_point_caution=cloud_point_caution,
    )
    contradiction = heat_fault(fuel)
    if contradiction is not None:
        raise contradiction
    return fuel

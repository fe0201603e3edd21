"""The flame with its gas split apart: products in chemical equilibrium at the flame's own temperature.

With q the root of the oxygen's pressure (bar), every other gas follows from q and the atoms:

    CO + O2/2 = CO2      CO = c / (1 + K1 q)
    H2 + O2/2 = H2O      H2 = H2O / (K2 q)
    H2/2 + O2/2 = OH, H2/2 = H, O2/2 = O, N2/2 + O2/2 = NO

The hydrogen and the nitrogen balance are each a quadratic in the root of the pressure of water and of
nitrogen; left over are the balance of oxygen, the sum of moles and the heat, solved by Newton's method
in ln T, ln q and ln n. Basis: mcbride_1993 (equilibrium constants from Gibbs energies).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lightoff.physics.burn import Products
from lightoff.physics.gas import (
    GAS_CONSTANT_J_MOL_K,
    enthalpies_j_mol,
    gibbs_over_rt,
)
from lightoff.physics.uncertain import Array, real

_SPECIES = ("CO2", "CO", "H2O", "H2", "OH", "H", "O", "O2", "N2", "NO")
_ALL = (*_SPECIES, "Ar", "SO2")
_BAR_PA = 1e5
_PASSES, _CLOSE = 40, 3e-5  # a step this small leaves an error of its square, some 1e-5 K
_NUDGE = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Atoms:
    """What goes into the flame for one kilogram of fuel, mol/kg, and the heat it must come out with.

    `enthalpy_j_kg` counts from the elements at 25 degC.
    """

    carbon: Array
    hydrogen: Array
    oxygen: Array
    nitrogen: Array
    argon: Array
    so2: Array
    enthalpy_j_kg: Array
    pressure_pa: Array

    @classmethod
    def of(cls, gas: Products, *, argon_fraction: float, enthalpy_j_kg: Array, pressure_pa: Array) -> Atoms:
        """The atoms of these products; `argon_fraction` is that of the atmospheric nitrogen."""
        return cls(
            carbon=real(gas.co2 + gas.co),
            hydrogen=real(2.0 * gas.h2o),
            oxygen=real(2.0 * gas.o2 + 2.0 * gas.co2 + gas.co + gas.h2o),
            nitrogen=real(2.0 * (1.0 - argon_fraction) * gas.n2_ar),
            argon=real(argon_fraction * gas.n2_ar),
            so2=real(gas.so2),
            enthalpy_j_kg=enthalpy_j_kg,
            pressure_pa=pressure_pa,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Thermo:
    """Equilibrium constants and enthalpies at one temperature."""

    constants: tuple[Array, ...]
    enthalpies: dict[str, Array]


@dataclass(frozen=True, slots=True, kw_only=True)
class Flame:
    """The solved flame: temperature, and moles of each gas for one kilogram of fuel."""

    temperature_k: Array
    moles_mol_kg: dict[str, Array]
    thermo: Thermo
    root: tuple[Array, Array]  # ln q, ln n
    inverse: tuple[Array, ...]  # first row of the inverse Jacobian: d ln T by each residual


def _thermo(temperature_k: Array) -> Thermo:
    g = gibbs_over_rt(_SPECIES, temperature_k)
    half_o2, half_h2 = 0.5 * g["O2"], 0.5 * g["H2"]
    return Thermo(
        constants=(
            np.exp(g["CO"] + half_o2 - g["CO2"]),
            np.exp(g["H2"] + half_o2 - g["H2O"]),
            np.exp(half_h2 + half_o2 - g["OH"]),
            np.exp(half_h2 - g["H"]),
            np.exp(half_o2 - g["O"]),
            np.exp(0.5 * g["N2"] + half_o2 - g["NO"]),
        ),
        enthalpies=enthalpies_j_mol(_ALL, temperature_k),
    )


def _moles(atoms: Atoms, thermo: Thermo, q: Array, total: Array) -> dict[str, Array]:
    """Every gas from the oxygen's root pressure q; the balance of oxygen is still open."""
    k_co, k_h2, k_oh, k_h, k_o, k_no = thermo.constants
    bar_per_mol = atoms.pressure_pa / _BAR_PA / total
    carbon_share = 1.0 / (1.0 + k_co * q)
    root_h2_per_w = 1.0 / np.sqrt(k_h2 * q)
    radical = root_h2_per_w * (k_oh * q + k_h)
    w = _positive_root(2.0 * (1.0 + root_h2_per_w * root_h2_per_w), radical, atoms.hydrogen * bar_per_mol)
    v = _positive_root(2.0, k_no * q, atoms.nitrogen * bar_per_mol)
    mol_per_bar = 1.0 / bar_per_mol
    water = w * w * mol_per_bar
    root_h2 = w * root_h2_per_w
    return {
        "CO2": atoms.carbon * (1.0 - carbon_share),
        "CO": atoms.carbon * carbon_share,
        "H2O": water,
        "H2": root_h2 * root_h2 * mol_per_bar,
        "OH": k_oh * root_h2 * q * mol_per_bar,
        "H": k_h * root_h2 * mol_per_bar,
        "O": k_o * q * mol_per_bar,
        "O2": q * q * mol_per_bar,
        "N2": v * v * mol_per_bar,
        "NO": k_no * v * q * mol_per_bar,
        "Ar": atoms.argon,
        "SO2": atoms.so2,
    }


def _positive_root(a: Array | float, b: Array, c: Array) -> Array:
    """x > 0 of a x^2 + b x = c, in the form that does not cancel."""
    return 2.0 * c / (b + np.sqrt(b * b + 4.0 * a * c))


def _residuals(atoms: Atoms, thermo: Thermo, ln_q: Array, ln_n: Array) -> tuple[Array, Array, Array]:
    total = np.exp(ln_n)
    n = _moles(atoms, thermo, np.exp(ln_q), total)
    oxygen = 2.0 * (n["CO2"] + n["O2"]) + n["CO"] + n["H2O"] + n["OH"] + n["O"] + n["NO"]
    heat = real(0.0)
    for name, moles in n.items():
        heat = heat + moles * thermo.enthalpies[name]
    scale = total * GAS_CONSTANT_J_MOL_K * 1000.0
    return (
        oxygen / atoms.oxygen - 1.0,
        sum(n.values(), real(0.0)) / total - 1.0,
        (heat - atoms.enthalpy_j_kg) / scale,
    )


def equilibrium_flame(atoms: Atoms, *, first_guess_k: Array) -> Flame:
    """The flame's temperature and gas in equilibrium, by Newton's method for all rows at once.

    Parameters: `first_guess_k` the temperature of complete combustion. Valid for: air ratios of one and
    more. Raises ArithmeticError if a row does not settle, which no row within the range has done.
    """
    ln_t, ln_q, ln_n = _first_guess(atoms, first_guess_k)
    moving = np.ones_like(ln_t)
    inverse = np.array((moving, moving, moving))
    for _ in range(_PASSES):
        step_t, step_q, step_n, newer = _newton(atoms, ln_t, ln_q, ln_n)
        # A row that has settled moves no more, so that it does not depend on the rows beside it.
        inverse = np.where(moving, newer, inverse)
        ln_t = ln_t - moving * np.clip(step_t, -0.2, 0.2)
        ln_q = ln_q - moving * np.clip(step_q, -1.5, 1.5)
        ln_n = ln_n - moving * np.clip(step_n, -0.1, 0.1)
        close = np.maximum(np.maximum(np.abs(step_t), np.abs(step_q)), np.abs(step_n)) < _CLOSE
        moving = moving * ~close
        if not np.any(moving):
            break
    else:
        raise ArithmeticError("the flame's equilibrium did not settle")
    temperature = np.exp(ln_t)
    thermo = _thermo(temperature)
    return Flame(
        temperature_k=temperature,
        moles_mol_kg=_moles(atoms, thermo, np.exp(ln_q), np.exp(ln_n)),
        thermo=thermo,
        root=(ln_q, ln_n),
        inverse=tuple(inverse),
    )


def moved_temperature_k(flame: Flame, atoms: Atoms) -> Array:
    """The temperature for atoms moved a little from those solved, by one step along the tangent."""
    residuals = _residuals(atoms, flame.thermo, *flame.root)
    step = sum((row * each for row, each in zip(flame.inverse, residuals, strict=True)), real(0.0))
    return flame.temperature_k * np.exp(-step)


def _first_guess(atoms: Atoms, complete_k: Array) -> tuple[Array, Array, Array]:
    excess = 0.5 * (atoms.oxygen - 2.0 * atoms.carbon - 0.5 * atoms.hydrogen)
    total = atoms.carbon + 0.5 * (atoms.hydrogen + atoms.nitrogen) + excess + atoms.argon + atoms.so2
    share = np.maximum(excess / total, 0.004)
    shape = np.broadcast_shapes(share.shape, np.shape(complete_k), atoms.pressure_pa.shape)
    ln_q = 0.5 * np.log(share * atoms.pressure_pa / _BAR_PA)
    ln_t = np.log(np.minimum(complete_k, 2300.0 + 0.0 * share))
    return (
        real(np.broadcast_to(ln_t, shape).copy()),
        real(np.broadcast_to(ln_q, shape).copy()),
        real(np.broadcast_to(np.log(total), shape).copy()),
    )


def _newton(atoms: Atoms, ln_t: Array, ln_q: Array, ln_n: Array) -> tuple[Array, Array, Array, Array]:
    """One step, and the first row of the inverse Jacobian (found by differences)."""
    here = _thermo(np.exp(ln_t))
    f = np.array(_residuals(atoms, here, ln_q, ln_n))
    warmer = _thermo(np.exp(ln_t + _NUDGE))
    by_t = (np.array(_residuals(atoms, warmer, ln_q, ln_n)) - f) / _NUDGE
    by_q = (np.array(_residuals(atoms, here, ln_q + _NUDGE, ln_n)) - f) / _NUDGE
    by_n = (np.array(_residuals(atoms, here, ln_q, ln_n + _NUDGE)) - f) / _NUDGE
    row_t = _cross(by_q, by_n)
    determinant = _dot(by_t, row_t)
    row_t = row_t / determinant
    row_q, row_n = _cross(by_n, by_t) / determinant, _cross(by_t, by_q) / determinant
    return _dot(row_t, f), _dot(row_q, f), _dot(row_n, f), row_t


def _cross(a: Array, b: Array) -> Array:
    return np.array([a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]])


def _dot(a: Array, b: Array) -> Array:
    return real(a[0] * b[0] + a[1] * b[1] + a[2] * b[2])

"""The flame with its gas split apart: products in chemical equilibrium at the flame's own temperature.

With q the root of the oxygen's pressure (bar), every other gas follows from q and the atoms:

    CO + O2/2 = CO2      CO = c / (1 + K1 q)
    H2 + O2/2 = H2O      H2 = H2O / (K2 q)
    H2/2 + O2/2 = OH, H2/2 = H, O2/2 = O, N2/2 + O2/2 = NO

The hydrogen and the nitrogen balance are each a quadratic in the root of the pressure of water and of
nitrogen; left over are the balance of oxygen, the sum of the pressures and the heat, solved by Newton's
method in ln T, ln q and ln b, where b is the pressure that a mole of the gas has. The slopes are exact, and
give as well how the temperature moves with each thing that goes in.
Basis: mcbride_1993 (equilibrium constants from Gibbs energies).
"""

from __future__ import annotations

from dataclasses import fields
from typing import TypeAlias, cast

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.physics.burn import Products
from lightoff.physics.gas import GAS_CONSTANT_J_MOL_K, NASA_COEFFICIENTS, NASA_MIDDLE_K
from lightoff.physics.uncertain import Array, real

_SPECIES = ("CO2", "CO", "H2O", "H2", "OH", "H", "O2", "O", "N2", "NO", "Ar", "SO2")
_CO2, _CO, _H2O, _H2, _OH, _H, _O2, _O, _N2, _NO, _AR, _SO2 = range(len(_SPECIES))
_SPLIT = slice(_AR)  # the gases that others are made of; argon and sulphur dioxide stay as they are
# The oxygen in each gas (that of sulphur dioxide is not in the balance), the gas itself, oxygen squared.
_OXYGEN = np.array([2.0, 1.0, 1.0, 0.0, 1.0, 0.0, 2.0, 1.0, 0.0, 1.0, 0.0, 0.0])
_COUNTS = np.array([_OXYGEN, np.ones_like(_OXYGEN), _OXYGEN * _OXYGEN])
# What is made in each reaction, and what from.
_MADE = {
    "CO2": {"CO2": 1.0, "CO": -1.0, "O2": -0.5},
    "H2O": {"H2O": 1.0, "H2": -1.0, "O2": -0.5},
    "OH": {"OH": 1.0, "H2": -0.5, "O2": -0.5},
    "H": {"H": 1.0, "H2": -0.5},
    "O": {"O": 1.0, "O2": -0.5},
    "NO": {"NO": 1.0, "N2": -0.5, "O2": -0.5},
}
_REACTIONS = np.array([[made.get(name, 0.0) for name in _SPECIES] for made in _MADE.values()])
_BAR_PA = 1e5
_PASSES, _CLOSE = 40, 2e-5  # a step this small leaves an error of its square, some 1e-5 K
_LONGEST = (0.2, 1.5, 0.1)  # step of ln T, ln q and ln b


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

    def in_single_precision(self) -> Atoms:
        """The same in half the memory."""
        return Atoms(**{each.name: _single(getattr(self, each.name)) for each in fields(self)})

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
class Flame:
    """The solved flame: its temperature, where it was found, and what it was made of.

    `place` is ln T, ln q and ln b; `slopes` tell how ln T moves with each field of Atoms, in their order.
    """

    temperature_k: Array
    place: Array
    atoms: Atoms
    slopes: Array

    @property
    def moles_mol_kg(self) -> dict[str, Array]:
        """The moles of each gas for one kilogram of fuel."""
        pressures = _gas(self.atoms, self.place).pressures
        return dict(zip(_SPECIES, pressures / np.exp(self.place[2]), strict=True))


def equilibrium_flame(atoms: Atoms) -> Flame:
    """The flame's temperature and gas in equilibrium, by Newton's method for all rows at once.

    Valid for: air ratios of one and more. Raises ArithmeticError if a row does not settle, which no row
    within the range has done.
    """
    place = _first_guess(atoms)
    moving, slopes = np.ones_like(place[0], dtype=np.bool_), np.zeros((len(fields(Atoms)), *place.shape[1:]))
    # The first step, of some 0.005, goes in single precision: in half the time, and a part in 1e6 off.
    coarse = atoms.in_single_precision()
    with np.errstate(over="ignore"):  # a constant of a cold gas, which does not split at all
        step, _ = _newton(coarse, _gas(coarse, _single(place)))
    place -= _held(step)
    for _ in range(_PASSES):
        gas = _gas(atoms, place)
        step, worth = _newton(atoms, gas)
        # A row that has settled moves no more, so that it does not depend on the rows beside it.
        settled = moving & (np.abs(step).max(axis=0) < _CLOSE)
        if np.any(settled):
            of_these = _slopes(gas, worth)
            slopes = of_these if np.all(settled) else np.where(settled, of_these, slopes)
        place -= moving * _held(step)
        moving = moving & ~settled
        if not np.any(moving):
            return Flame(temperature_k=real(np.exp(place[0])), place=place, atoms=atoms, slopes=slopes)
    raise ArithmeticError("the flame's equilibrium did not settle")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Gas:
    """The gas at a place, its carbon, hydrogen and nitrogen balanced and nothing else.

    Of each gas, in the order of _SPECIES: pressure (bar), heat over RT and capacity over R. `weights` are
    what the gases that hold hydrogen, nitrogen and carbon have together of oxygen, of pressure and of heat,
    each gas as often as it holds the atom; `grows` is how far the pressure of the free atom rises (in ln)
    with each bar of it more.
    """

    bar_per_mol: Array
    bar_per_joule: Array
    pressures: Array
    heats: Array
    capacities: Array
    hot: Array  # pressure times heat
    weights: tuple[tuple[Array, Array, Array], ...]
    grows: tuple[Array, Array, Array]


def _gas(atoms: Atoms, place: Array) -> _Gas:
    temperature, q, bar_per_mol = np.exp(place)
    heats, capacities, (k_co, k_h2, k_oh, k_h, k_o, k_no) = _thermo(temperature, place[0])
    share = 1.0 / (1.0 + k_co * q)
    h2_of_water = 1.0 / (k_h2 * q)
    root = np.sqrt(h2_of_water)
    hydroxyl, atomic, nitric = root * k_oh * q, root * k_h, k_no * q
    hydrogen, nitrogen, carbon = (
        each * bar_per_mol for each in (atoms.hydrogen, atoms.nitrogen, atoms.carbon)
    )
    w = _positive_root(2.0 * (1.0 + h2_of_water), hydroxyl + atomic, hydrogen)
    v = _positive_root(2.0, nitric, nitrogen)
    p = np.empty((len(_SPECIES), *np.shape(w + v + carbon)), dtype=w.dtype)
    p[_CO] = carbon * share
    p[_CO2] = carbon - p[_CO]
    p[_H2O] = w * w
    p[_H2], p[_OH], p[_H] = p[_H2O] * h2_of_water, hydroxyl * w, atomic * w
    p[_O2], p[_O] = q * q, k_o * q
    p[_N2], p[_NO] = v * v, nitric * v
    p[_AR], p[_SO2] = atoms.argon * bar_per_mol, atoms.so2 * bar_per_mol
    hot = p * heats
    return _Gas(
        bar_per_mol=bar_per_mol,
        bar_per_joule=bar_per_mol / (GAS_CONSTANT_J_MOL_K * temperature),
        pressures=p,
        heats=heats,
        capacities=capacities,
        hot=hot,
        weights=(
            (
                2.0 * p[_H2O] + p[_OH],
                hydrogen,
                2.0 * (hot[_H2O] + hot[_H2]) + hot[_OH] + hot[_H],
            ),
            (p[_NO], nitrogen, 2.0 * hot[_N2] + hot[_NO]),
            (carbon + p[_CO2], carbon, hot[_CO2] + hot[_CO]),
        ),
        grows=(1.0 / (hydrogen + 2.0 * (p[_H2O] + p[_H2])), 1.0 / (2.0 * nitrogen - p[_NO]), 1.0 / carbon),
    )


def _newton(atoms: Atoms, gas: _Gas) -> tuple[Array, Array]:
    """The step of ln T, ln q and ln b; and what one more in each of the three sums is worth in ln T.

    The sums are those of oxygen, of pressures and of heat. How one of them moves with what another counts
    is the sum over the gases of both counts, less what the balances of hydrogen, nitrogen and carbon take
    back: the same either way, so that a third of the slopes need no work of their own.
    """
    p, hot = gas.pressures, gas.hot
    bound, brought = atoms.oxygen * gas.bar_per_mol, atoms.enthalpy_j_kg * gas.bar_per_joule
    counts = _COUNTS.astype(p.dtype, copy=False)
    oxygen, pressure, oxygen_squared = np.tensordot(counts, p, axes=1)
    oxygen_hot, heat = np.tensordot(counts[:2], hot, axes=1)
    heat_squared = np.einsum("i...,i...->...", hot[_SPLIT], gas.heats[_SPLIT])
    pressed = [0.0, p[_AR] + p[_SO2], hot[_AR] + hot[_SO2]]
    for of_atom, grows in zip(gas.weights, gas.grows, strict=True):
        of_oxygen, of_pressure, of_heat = of_atom
        taken = of_oxygen * grows, of_heat * grows
        oxygen_squared = oxygen_squared - of_oxygen * taken[0]
        oxygen_hot = oxygen_hot - of_heat * taken[0]
        heat_squared = heat_squared - of_heat * taken[1]
        pressed[0] = pressed[0] + of_pressure * taken[0]
        pressed[1] = pressed[1] + of_pressure * (of_pressure * grows)
        pressed[2] = pressed[2] + of_pressure * taken[1]
    off = oxygen - bound, pressure - atoms.pressure_pa / _BAR_PA, heat - brought
    by_q = oxygen_squared, oxygen - pressed[0], oxygen_hot
    half = 0.5 * gas.heats[_O2]  # q is held while the temperature turns the potential of oxygen
    by_t = (
        oxygen_hot - half * by_q[0],
        heat - pressed[2] - half * by_q[1],
        heat_squared - half * by_q[2] + np.einsum("i...,i...->...", p, gas.capacities) - off[2],
    )
    by_b = pressed[0] - bound, pressed[1], pressed[2] - brought
    minors = _cross(by_q, by_b)
    share = 1.0 / _dot(by_t, minors)
    step_t = share * _dot(minors, off)
    left_oxygen, left_pressure = off[0] - step_t * by_t[0], off[1] - step_t * by_t[1]
    step_q = (left_oxygen * by_b[1] - left_pressure * by_b[0]) / minors[2]
    step_b = (by_q[0] * left_pressure - by_q[1] * left_oxygen) / minors[2]
    return np.stack((step_t, step_q, step_b)), -share * np.stack(minors)


def _slopes(gas: _Gas, worth: Array) -> Array:
    """How ln T moves with each field of Atoms, in their order."""
    b = gas.bar_per_mol
    oxygen, pressure, heat = worth
    hydrogen, nitrogen, carbon = (
        b * grows * (oxygen * of_atom[0] + pressure * of_atom[1] + heat * of_atom[2])
        for of_atom, grows in zip(gas.weights, gas.grows, strict=True)
    )
    slopes = (
        carbon,
        hydrogen,
        -oxygen * b,
        nitrogen,
        b * (pressure + heat * gas.heats[_AR]),
        b * (pressure + heat * gas.heats[_SO2]),
        -heat * gas.bar_per_joule,
        -pressure / _BAR_PA,
    )
    return np.stack(np.broadcast_arrays(*slopes))


def _thermo(temperature_k: Array, logarithm: Array) -> tuple[Array, Array, Array]:
    """Heat over RT and capacity over R of each gas, and each K (bar), in the order of _MADE."""
    t = temperature_k
    square = t * t
    powers = np.stack((1.0 / t, logarithm, np.ones_like(t), t, square, square * t, square * square))
    hot = t > NASA_MIDDLE_K
    low, high = (each.astype(t.dtype, copy=False) for each in (_LOW, _HIGH))
    if np.all(hot):
        told = np.tensordot(high, powers, axes=1)
    else:
        told = np.where(hot, np.tensordot(high, powers, axes=1), np.tensordot(low, powers, axes=1))
    count = len(_SPECIES)
    return told[:count], told[count : 2 * count], np.exp(told[2 * count :])


def _terms(span: int) -> Array:
    """By the powers of `_thermo`: heats over RT, capacities over R, and the ln K of each reaction."""
    heats, capacities, gibbs = [], [], []
    for name in _SPECIES:
        a1, a2, a3, a4, a5, a6, a7 = NASA_COEFFICIENTS[name][span]
        heats.append((a6, 0.0, a1, a2 / 2, a3 / 3, a4 / 4, a5 / 5))
        capacities.append((0.0, 0.0, a1, a2, a3, a4, a5))
        gibbs.append((a6, -a1, a1 - a7, -a2 / 2, -a3 / 6, -a4 / 12, -a5 / 20))
    return np.concatenate((heats, capacities, -_REACTIONS @ np.array(gibbs)))


_LOW, _HIGH = _terms(0), _terms(1)
_USUAL_K = 1800.0
_USUAL_HEATS, _USUAL_CAPACITIES, _ = _thermo(real(_USUAL_K), np.log(real(_USUAL_K)))


def _first_guess(atoms: Atoms) -> Array:
    """The gas as if nothing split apart, its heat a straight line about a usual flame's temperature.

    Cooled and richer in oxygen as solved flames of diesel are: that spares passes and moves no answer.
    """
    water, nitrogen = 0.5 * atoms.hydrogen, 0.5 * atoms.nitrogen + atoms.argon
    oxygen = 0.5 * (atoms.oxygen - water) - atoms.carbon
    whole = ((_CO2, atoms.carbon), (_H2O, water), (_O2, oxygen), (_N2, nitrogen))
    total = atoms.carbon + water + oxygen + nitrogen + atoms.so2
    heat, capacity = (
        sum((each[one] * moles for one, moles in whole), real(0.0))
        for each in (_USUAL_HEATS, _USUAL_CAPACITIES)
    )
    warmer = (atoms.enthalpy_j_kg / (GAS_CONSTANT_J_MOL_K * _USUAL_K) - heat) / capacity
    bar, spare = atoms.pressure_pa / _BAR_PA, np.maximum(oxygen / total, 0.0)
    hot, pressed = np.exp(5.0 * np.minimum(warmer, 0.5)), np.log(bar)
    split = hot / np.sqrt(spare + 0.005)
    places = (
        np.log(_USUAL_K * np.clip(1.0 + warmer, 0.2, 1.5))
        - (0.0165 + 0.162 * warmer) * warmer
        - (0.00059 - 0.00034 * pressed) * split,
        0.5 * np.log((spare + 0.0005) * bar)
        - 0.0164 * hot
        - (0.0085 * warmer - (1.88e-4 - 4.5e-5 * pressed) * split) * split,
        np.log(bar / total),
    )
    return np.stack(np.broadcast_arrays(*places))


def _held(step: Array) -> Array:
    """No longer than _LONGEST."""
    return np.stack([np.clip(each, -most, most) for each, most in zip(step, _LONGEST, strict=True)])


def _single(value: Array) -> Array:
    return cast("Array", value.astype(np.float32))


def _positive_root(a: Array | float, b: Array, c: Array) -> Array:
    """x > 0 of a x^2 + b x = c, in the form that does not cancel."""
    return 2.0 * c / (b + np.sqrt(b * b + 4.0 * a * c))


_Triple: TypeAlias = tuple[Array, Array, Array]


def _cross(a: _Triple, b: _Triple) -> _Triple:
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


def _dot(a: _Triple, b: _Triple) -> Array:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]

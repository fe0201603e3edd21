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

from dataclasses import dataclass, fields

import numpy as np

from lightoff.physics.burn import Products
from lightoff.physics.gas import GAS_CONSTANT_J_MOL_K, NASA_COEFFICIENTS, NASA_MIDDLE_K
from lightoff.physics.uncertain import Array, real

_SPECIES = ("CO2", "CO", "H2O", "H2", "OH", "H", "O2", "O", "N2", "NO", "Ar", "SO2")
_CO2, _CO, _H2O, _H2, _OH, _H, _O2, _O, _N2, _NO, _AR, _SO2 = range(len(_SPECIES))
_HYDROGEN, _NITROGEN = slice(_H2O, _O2), slice(_N2, _AR)
# The oxygen in each gas (that of sulphur dioxide is not in the balance), and the gas itself.
_COUNTS = np.array([[2.0, 1.0, 1.0, 0.0, 1.0, 0.0, 2.0, 1.0, 0.0, 1.0, 0.0, 0.0], [1.0] * len(_SPECIES)])
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
_PASSES, _CLOSE = 40, 3e-5  # a step this small leaves an error of its square, some 1e-5 K
_LONGEST = (0.2, 1.5, 0.1)  # step of ln T, ln q and ln b
# How often the root of its quadratic stands in each gas of hydrogen and of nitrogen.
_FOLD = np.array([0.0, 0.0, 2.0, 2.0, 1.0, 1.0, 0.0, 0.0, 2.0, 1.0, 0.0, 0.0])
_BY_Q = np.array([1.0, 1.0, 1.0, 0.0, 1.0, 1.0])  # which K stands beside a q, in the order of _MADE


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


def equilibrium_flame(atoms: Atoms, *, first_guess_k: Array) -> Flame:
    """The flame's temperature and gas in equilibrium, by Newton's method for all rows at once.

    Parameters: `first_guess_k` the temperature of complete combustion. Valid for: air ratios of one and
    more. Raises ArithmeticError if a row does not settle, which no row within the range has done.
    """
    place = _first_guess(atoms, first_guess_k)
    moving, slopes = np.ones_like(place[0]), np.zeros((len(fields(Atoms)), *place.shape[1:]))
    for _ in range(_PASSES):
        step, newer = _newton(atoms, _gas(atoms, place))
        # A row that has settled moves no more, so that it does not depend on the rows beside it.
        slopes = np.where(moving, newer, slopes)
        for each, most in enumerate(_LONGEST):
            place[each] -= moving * np.clip(step[each], -most, most)
        moving = moving * ~(np.abs(step).max(axis=0) < _CLOSE)
        if not np.any(moving):
            return Flame(temperature_k=real(np.exp(place[0])), place=place, atoms=atoms, slopes=slopes)
    raise ArithmeticError("the flame's equilibrium did not settle")


def moved_temperature_k(flame: Flame, atoms: Atoms) -> Array:
    """The temperature for atoms moved a little from those solved, along the tangent."""
    moved = real(1.0)
    for each, slope in zip(fields(Atoms), flame.slopes, strict=True):
        now, then = getattr(atoms, each.name), getattr(flame.atoms, each.name)
        if now is not then:
            moved = moved + slope * (now - then)
    return real(flame.temperature_k * moved)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Gas:
    """The gas at a place, its hydrogen and nitrogen balanced and nothing else.

    Of each gas, in the order of _SPECIES: pressure (bar), heat over RT and capacity over R.
    `monoxide` is the share of the carbon in carbon monoxide.
    """

    temperature_k: Array
    bar_per_mol: Array
    pressures: Array
    heats: Array
    capacities: Array
    monoxide: Array


def _gas(atoms: Atoms, place: Array) -> _Gas:
    temperature, q, bar_per_mol = np.exp(place)
    heats, capacities, (k_co, k_h2, k_oh, k_h, k_o, k_no) = _thermo(temperature, place[0])
    share = 1.0 / (1.0 + k_co * q)
    h2_of_water = 1.0 / (k_h2 * q)
    root = np.sqrt(h2_of_water)
    hydroxyl, atomic, nitric = root * k_oh * q, root * k_h, k_no * q
    w = _positive_root(2.0 * (1.0 + h2_of_water), hydroxyl + atomic, atoms.hydrogen * bar_per_mol)
    v = _positive_root(2.0, nitric, atoms.nitrogen * bar_per_mol)
    carbon = atoms.carbon * bar_per_mol
    p = np.empty((len(_SPECIES), *np.shape(w + v + carbon)))
    p[_CO2], p[_CO] = carbon * (1.0 - share), carbon * share
    p[_H2O] = w * w
    p[_H2], p[_OH], p[_H] = p[_H2O] * h2_of_water, hydroxyl * w, atomic * w
    p[_O2], p[_O] = q * q, k_o * q
    p[_N2], p[_NO] = v * v, nitric * v
    p[_AR], p[_SO2] = atoms.argon * bar_per_mol, atoms.so2 * bar_per_mol
    return _Gas(
        temperature_k=temperature,
        bar_per_mol=bar_per_mol,
        pressures=p,
        heats=heats,
        capacities=capacities,
        monoxide=share,
    )


def _newton(atoms: Atoms, gas: _Gas) -> tuple[Array, Array]:
    """The step of ln T, ln q and ln b, and how ln T moves with each thing that goes in.

    What a change adds is told in three numbers: oxygen in the balance, pressure in the sum, heat.
    """
    p, b = gas.pressures, gas.bar_per_mol
    bar_per_joule = b / (GAS_CONSTANT_J_MOL_K * gas.temperature_k)
    bound, brought = atoms.oxygen * b, atoms.enthalpy_j_kg * bar_per_joule
    off = _adds(gas, p)
    off[0] -= bound
    off[1] -= atoms.pressure_pa / _BAR_PA
    off[2] -= brought
    # How far the roots of both quadratics grow, each for what stands on its right side.
    grows = 1.0 / (4.0 * (p[_H2O] + p[_H2]) + p[_OH] + p[_H]), 1.0 / (4.0 * p[_N2] + p[_NO])
    by_q = _adds(gas, _turned(gas, grows, _BY_Q, 1.0))
    by_t = _adds(gas, _turned(gas, grows, np.tensordot(_REACTIONS, gas.heats, axes=1), 0.0))
    by_t[2] += np.einsum("i...,i...->...", p, gas.capacities) - off[2]
    of_carbon = b * (_counts(gas, _CO2) * (1.0 - gas.monoxide) + _counts(gas, _CO) * gas.monoxide)
    of_hydrogen = b * grows[0] * _adds(gas, _folded(p, _HYDROGEN), _HYDROGEN)
    of_nitrogen = b * grows[1] * _adds(gas, _folded(p, _NITROGEN), _NITROGEN)
    of_argon, of_so2 = b * _counts(gas, _AR), b * _counts(gas, _SO2)
    by_b = of_carbon * atoms.carbon + of_hydrogen * atoms.hydrogen + of_nitrogen * atoms.nitrogen
    by_b += of_argon * atoms.argon + of_so2 * atoms.so2
    by_b[0] -= bound
    by_b[2] -= brought
    row_t, row_q, row_b = _cross(by_q, by_b), _cross(by_b, by_t), _cross(by_t, by_q)
    share = 1.0 / _dot(by_t, row_t)
    step = share * np.stack([_dot(row, off) for row in (row_t, row_q, row_b)])
    row_t *= -share
    slopes = (
        _dot(row_t, of_carbon),
        _dot(row_t, of_hydrogen),
        -row_t[0] * b,
        _dot(row_t, of_nitrogen),
        _dot(row_t, of_argon),
        _dot(row_t, of_so2),
        -row_t[2] * bar_per_joule,
        -row_t[1] / _BAR_PA,
    )
    return step, np.stack(np.broadcast_arrays(*slopes))


def _adds(gas: _Gas, p: Array, part: slice = slice(None)) -> Array:
    """What pressures of these gases add."""
    counted = np.tensordot(_COUNTS[:, part], p, axes=1)
    return np.concatenate((counted, np.einsum("i...,i...->...", p, gas.heats[part])[None]))


def _counts(gas: _Gas, one: int) -> Array:
    """What one bar of a gas adds."""
    heat = gas.heats[one]
    oxygen, pressure = (np.full_like(heat, each) for each in _COUNTS[:, one])
    return np.stack((oxygen, pressure, heat))


def _folded(p: Array, part: slice) -> Array:
    """Each pressure by how often the root that it rests on stands in it."""
    return p[part] * _FOLD[part].reshape(-1, *(1,) * (p.ndim - 1))


def _turned(gas: _Gas, grows: tuple[Array, Array], turn: Array, q: float) -> Array:
    """How the pressures change, where each ln K with the ln q beside it turns by `turn`, and ln q by `q`."""
    p = gas.pressures
    of_co, of_h2, of_oh, of_h, of_o, of_no = turn
    changed = np.empty_like(p)
    changed[_CO2] = p[_CO] * (1.0 - gas.monoxide) * of_co
    changed[_CO] = -changed[_CO2]
    root = -0.5 * of_h2
    of_oh, of_h = of_oh + root, of_h + root
    water = -grows[0] * (4.0 * p[_H2] * root + p[_OH] * of_oh + p[_H] * of_h)
    changed[_H2O] = p[_H2O] * (2.0 * water)
    changed[_H2] = p[_H2] * (2.0 * (water + root))
    changed[_OH] = p[_OH] * (water + of_oh)
    changed[_H] = p[_H] * (water + of_h)
    changed[_O2], changed[_O] = p[_O2] * (2.0 * q), p[_O] * of_o
    nitrogen = -grows[1] * p[_NO] * of_no
    changed[_N2], changed[_NO] = p[_N2] * (2.0 * nitrogen), p[_NO] * (nitrogen + of_no)
    changed[_AR:] = 0.0
    return changed


def _thermo(temperature_k: Array, logarithm: Array) -> tuple[Array, Array, Array]:
    """Heat over RT and capacity over R of each gas, and each K (bar), in the order of _MADE."""
    t = temperature_k
    square = t * t
    powers = np.stack((1.0 / t, logarithm, np.ones_like(t), t, square, square * t, square * square))
    hot = t > NASA_MIDDLE_K
    if np.all(hot):
        told = np.tensordot(_HIGH, powers, axes=1)
    else:
        told = np.where(hot, np.tensordot(_HIGH, powers, axes=1), np.tensordot(_LOW, powers, axes=1))
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


def _first_guess(atoms: Atoms, complete_k: Array) -> Array:
    excess = 0.5 * (atoms.oxygen - 2.0 * atoms.carbon - 0.5 * atoms.hydrogen)
    total = atoms.carbon + 0.5 * (atoms.hydrogen + atoms.nitrogen) + excess + atoms.argon + atoms.so2
    bar = atoms.pressure_pa / _BAR_PA
    ln_q = 0.5 * np.log(np.maximum(excess / total, 0.004) * bar)
    places = (np.log(np.minimum(complete_k, 2300.0)), ln_q, np.log(bar / total))
    return np.stack(np.broadcast_arrays(*places))


def _positive_root(a: Array | float, b: Array, c: Array) -> Array:
    """x > 0 of a x^2 + b x = c, in the form that does not cancel."""
    return 2.0 * c / (b + np.sqrt(b * b + 4.0 * a * c))


def _cross(a: Array, b: Array) -> Array:
    return np.stack([a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]])


def _dot(a: Array, b: Array) -> Array:
    return real(a[0] * b[0] + a[1] * b[1] + a[2] * b[2])

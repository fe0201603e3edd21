"""Heat content of the gases of a flue, from polynomials.

Basis: mcbride_1993 (NASA seven-coefficient form: H/RT = a1 + a2 T/2 + a3 T^2/3 + a4 T^3/4 + a5 T^4/5 + a6/T;
S/R = a1 ln T + a2 T + a3 T^2/2 + a4 T^3/3 + a5 T^4/4 + a7), two ranges that meet at 1000 K.
Valid for: 200 to 6000 K (sulphur dioxide 300 to 5000 K). Held in the tests against another set of
polynomials (grimech_30) by an independent library.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import TypeAlias

import numpy as np

from lightoff.physics.uncertain import Array, real

GAS_CONSTANT_J_MOL_K = 8.314462618
"""Exact. Basis: bipm_si_2019."""
REFERENCE_TEMPERATURE_K = 298.15
NORMAL_MOLAR_VOLUME_M3_MOL = GAS_CONSTANT_J_MOL_K * 273.15 / 101325.0
"""Of an ideal gas at 0 degC and 101.325 kPa: 22.414e-3 m3/mol."""

MOLAR_MASS_KG_MOL = {
    "C": 12.011e-3,
    "H": 1.008e-3,
    "O": 15.999e-3,
    "N": 14.007e-3,
    "S": 32.06e-3,
    "Ar": 39.95e-3,
}
"""Abridged standard atomic weights. Basis: iupac_2021."""

_Coefficients: TypeAlias = tuple[float, ...]
NASA_MIDDLE_K = 1000.0
# (low range, high range), a1 to a7. Basis: mcbride_1993, as shipped with an open-source library.
NASA_COEFFICIENTS: dict[str, tuple[_Coefficients, _Coefficients]] = {
    "O2": (
        (3.78245636, -2.99673415e-3, 9.847302e-6, -9.68129508e-9, 3.24372836e-12, -1063.94356, 3.65767573),
        (3.66096083, 6.56365523e-4, -1.41149485e-7, 2.05797658e-11, -1.29913248e-15, -1215.97725, 3.41536184),
    ),
    "N2": (
        (3.53100528, -1.23660987e-4, -5.02999437e-7, 2.43530612e-9, -1.40881235e-12, -1046.97628, 2.96747468),
        (2.95257626, 1.39690057e-3, -4.92631691e-7, 7.86010367e-11, -4.60755321e-15, -923.948645, 5.87189252),
    ),
    "Ar": (
        (2.5, 0.0, 0.0, 0.0, 0.0, -745.375, 4.37967491),
        (2.5, 0.0, 0.0, 0.0, 0.0, -745.375, 4.37967491),
    ),
    "CO2": (
        (2.35677352, 8.98459677e-3, -7.12356269e-6, 2.45919022e-9, -1.43699548e-13, -48371.9697, 9.90105222),
        (
            4.63659493,
            2.74131991e-3,
            -9.95828531e-7,
            1.60373011e-10,
            -9.16103468e-15,
            -49024.9341,
            -1.93534855,
        ),
    ),
    "H2O": (
        (4.19864056, -2.0364341e-3, 6.52040211e-6, -5.48797062e-9, 1.77197817e-12, -30293.7267, -0.849032208),
        (2.67703787, 2.97318329e-3, -7.7376969e-7, 9.44336689e-11, -4.26900959e-15, -29885.8938, 6.88255571),
    ),
    "CO": (
        (3.57953347, -6.1035368e-4, 1.01681433e-6, 9.07005884e-10, -9.04424499e-13, -14344.086, 3.50840928),
        (3.04848583, 1.35172818e-3, -4.85794075e-7, 7.88536486e-11, -4.69807489e-15, -14266.1171, 6.0170979),
    ),
    "SO2": (
        (3.2665338, 5.3237902e-3, 6.8437552e-7, -5.2810047e-9, 2.5590454e-12, -36908.148, 9.66465108),
        (5.2451364, 1.9704204e-3, -8.0375769e-7, 1.5149969e-10, -1.0558004e-14, -37558.227, -1.07404892),
    ),
    "H2": (
        (2.34433112, 7.98052075e-3, -1.9478151e-5, 2.01572094e-8, -7.37611761e-12, -917.935173, 0.683010238),
        (
            2.93286579,
            8.26607967e-4,
            -1.46402335e-7,
            1.54100359e-11,
            -6.88804432e-16,
            -813.065597,
            -1.02432887,
        ),
    ),
    "OH": (
        (3.99201543, -2.40131752e-3, 4.61793841e-6, -3.88113333e-9, 1.3641147e-12, 3615.08056, -0.103925458),
        (2.83864607, 1.10725586e-3, -2.93914978e-7, 4.20524247e-11, -2.42169092e-15, 3943.95852, 5.84452662),
    ),
    "O": (
        (3.1682671, -3.27931884e-3, 6.64306396e-6, -6.12806624e-9, 2.11265971e-12, 29122.2592, 2.05193346),
        (2.54363697, -2.73162486e-5, -4.1902952e-9, 4.95481845e-12, -4.79553694e-16, 29226.012, 4.92229457),
    ),
    "H": (
        (2.5, 0.0, 0.0, 0.0, 0.0, 25473.6599, -0.446682853),
        (
            2.50000286,
            -5.65334214e-9,
            3.63251723e-12,
            -9.1994972e-16,
            7.95260746e-20,
            25473.6589,
            -0.446698494,
        ),
    ),
    "NO": (
        (4.21859896, -4.63988124e-3, 1.10443049e-5, -9.34055507e-9, 2.80554874e-12, 9845.09964, 2.28061001),
        (3.26071234, 1.19101135e-3, -4.29122646e-7, 6.94481463e-11, -4.03295681e-15, 9921.43132, 6.36900518),
    ),
}


# What is left of dry air when its oxygen is used up, by mole: nitrogen with its argon (air.DRY_AIR).
ARGON_IN_ATMOSPHERIC_NITROGEN_FRACTION = 0.0093 / (0.7808 + 0.0093)


def _atmospheric_nitrogen(span: int) -> _Coefficients:
    pairs = zip(NASA_COEFFICIENTS["N2"][span], NASA_COEFFICIENTS["Ar"][span], strict=True)
    return tuple(n2 + ARGON_IN_ATMOSPHERIC_NITROGEN_FRACTION * (ar - n2) for n2, ar in pairs)


# For enthalpy and heat capacity only: the entropy of mixing is not in it.
NASA_COEFFICIENTS["N2+Ar"] = (_atmospheric_nitrogen(0), _atmospheric_nitrogen(1))


def _enthalpy_form(a: _Coefficients) -> _Coefficients:
    return tuple(GAS_CONSTANT_J_MOL_K * term for term in (a[5], a[0], a[1] / 2, a[2] / 3, a[3] / 4, a[4] / 5))


def _heat_capacity_form(a: _Coefficients) -> _Coefficients:
    return tuple(GAS_CONSTANT_J_MOL_K * term for term in a[:5])


@cache
def _columns(form: Callable[[_Coefficients], _Coefficients], species: tuple[str, ...]) -> tuple[Array, Array]:
    """The terms of several gases side by side, (term, gas), for the low and the high range."""
    low, high = (
        np.array([form(NASA_COEFFICIENTS[name][span]) for name in species]).T.copy() for span in (0, 1)
    )
    return low, high


def _each(
    form: Callable[[_Coefficients], _Coefficients], species: tuple[str, ...], temperature_k: Array
) -> Array:
    """The polynomials of several gases, (gas, temperature), by Horner's scheme for all at once."""
    low, high = _columns(form, species)
    if temperature_k.ndim == 0:
        return _horner(high if temperature_k > NASA_MIDDLE_K else low, temperature_k)
    rows = (1,) * temperature_k.ndim
    low, high = low.reshape(low.shape + rows), high.reshape(high.shape + rows)
    hot = temperature_k > NASA_MIDDLE_K
    some = np.count_nonzero(hot)
    if not some:
        return _horner(low, temperature_k)
    if some == hot.size:
        return _horner(high, temperature_k)
    return np.where(hot, _horner(high, temperature_k), _horner(low, temperature_k))


def _horner(terms: Array, t: Array) -> Array:
    total: Array = terms[-1] * t
    total += terms[-2]
    for term in terms[-3::-1]:
        total *= t
        total += term
    return total


def enthalpies_j_mol(species: tuple[str, ...], temperature_k: Array) -> dict[str, Array]:
    """Molar enthalpy of each gas with the heat of formation from the elements at 298.15 K, J/mol."""
    return dict(zip(species, _each(_enthalpy_form, species, temperature_k), strict=True))


def heat_capacities_j_mol_k(species: tuple[str, ...], temperature_k: Array) -> dict[str, Array]:
    """Molar heat capacity of each gas at constant pressure, J/(mol K)."""
    return dict(zip(species, _each(_heat_capacity_form, species, temperature_k), strict=True))


GASES = ("O2", "CO2", "CO", "N2+Ar", "H2O", "SO2")
"""What a flue holds; sulphur dioxide only where the fuel has sulphur."""
AT_25_DEGC_J_MOL = enthalpies_j_mol(GASES, real(REFERENCE_TEMPERATURE_K))
"""Molar enthalpy of each at 25 degC."""
CO_HEATING_VALUE_J_MOL = 282_980.0
"""Heat of burning carbon monoxide at 25 degC: formation of CO2 (-393.51 kJ/mol) less that of CO
(-110.53 kJ/mol). Basis: codata_1989."""
WATER_LATENT_HEAT_J_MOL = 44_004.0
"""Liquid to ideal vapour at 25 degC: formation of liquid (-285.830 kJ/mol) less that of vapour
(-241.826 kJ/mol). Basis: codata_1989."""

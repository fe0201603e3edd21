"""Flue analysis: from what a probe reads to how the fuel burns and where its heat goes."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import field, fields
from typing import Literal

import numpy as np

from lightoff.ground.errors import LightoffError
from lightoff.ground.values import dataclass
from lightoff.physics import air
from lightoff.physics.flue_chain import FlueChain
from lightoff.physics.flue_gas import FlueGas, ReadingUncertainty, flue_gas
from lightoff.physics.flue_problems import Readings, check
from lightoff.physics.fuel import Fuel
from lightoff.physics.uncertain import Array, Real, Uncertain, propagate, real, through

Co2Basis = Literal["measured", "calculated"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FlueSet:
    """One set of flue readings, each as `analyse` takes it."""

    o2_dry_fraction: float | None = None
    o2_wet_fraction: float | None = None
    co2_dry_fraction: float | None = None
    co2_basis: Co2Basis = "measured"
    co_dry_fraction: float | None = None
    stack_temperature_k: float | None = None
    combustion_air_temperature_k: float | None = None
    relative_humidity_fraction: float | None = None
    pressure_pa: float | None = None
    uncertainty: ReadingUncertainty = field(default_factory=ReadingUncertainty)


def analyse(
    fuel: Fuel,
    *,
    o2_dry_fraction: Real | None = None,
    o2_wet_fraction: Real | None = None,
    co2_dry_fraction: Real | None = None,
    co2_basis: Co2Basis = "measured",
    co_dry_fraction: Real | None = None,
    stack_temperature_k: Real | None = None,
    combustion_air_temperature_k: Real | None = None,
    relative_humidity_fraction: Real | None = None,
    pressure_pa: Real | None = None,
    uncertainty: ReadingUncertainty | None = None,
    reference_o2_fraction: float = 0.0,
    dissociation: bool = True,
    extrapolate: bool = False,
) -> FlueGas:
    """Everything that a set of flue readings tells about the burn, with uncertainty.

    Parameters (floats, or arrays of one shape)
        o2_dry_fraction, o2_wet_fraction: oxygen share of dried gas, or of the gas as it is in the pipe;
            one of them, 0 to 0.2095. co2_dry_fraction: carbon dioxide share of dried gas; serves for the
            air ratio if oxygen is not given. co2_basis: "calculated" if the instrument worked it out from
            oxygen: then it proves nothing about the oxygen and is not held against it.
        co_dry_fraction: carbon monoxide share of dried gas; None is not measured, which is not zero.
        stack_temperature_k, combustion_air_temperature_k: gas in the flue, and air at the intake.
        relative_humidity_fraction, pressure_pa: of the air at the intake; without humidity the air
            counts as dry.
        uncertainty: of the readings; that of the fuel between batches is in the Fuel and always counts.
        dissociation: whether the flame's gas splits apart as equilibrium wants; without it the flame's
            temperature reads 20 K high at an air ratio of 1.3 and 80 K at 1.1, and comes sooner.
        reference_o2_fraction: dry oxygen to which `co_referred_fraction` is referred.
    Returns a FlueGas. Raises Refusal (Refusals, if several) for readings that cannot be, Declined for
    such as lie outside what the balance holds for, unless `extrapolate`.
    Basis: element_balance, mcbride_1993, jcgm_100_2008.

    >>> from lightoff.physics.fuel import fuel_from_data_sheet
    >>> diesel = fuel_from_data_sheet(
    ...     key="diesel_2", name="No. 2 diesel", density_15c_kg_m3=848.3, hydrogen_fraction=0.13,
    ...     heating_value_j_kg=45.759e6, heating_value_basis="gross",
    ... )
    >>> gas = analyse(
    ...     diesel, o2_dry_fraction=0.048, co_dry_fraction=38e-6, stack_temperature_k=509.15,
    ...     combustion_air_temperature_k=284.15, uncertainty=ReadingUncertainty(o2_fraction=0.003),
    ... )
    >>> ratio = gas.air_ratio.estimate()
    >>> print(f"{ratio.value:.2f} from {ratio.low:.2f} to {ratio.high:.2f}")
    1.28 from 1.26 to 1.30
    """
    readings = Readings(
        o2_dry_fraction=_array(o2_dry_fraction),
        o2_wet_fraction=_array(o2_wet_fraction),
        co2_dry_fraction=_array(co2_dry_fraction),
        co_dry_fraction=_array(co_dry_fraction),
        stack_temperature_k=_array(stack_temperature_k),
        combustion_air_temperature_k=_array(combustion_air_temperature_k),
        relative_humidity_fraction=_array(relative_humidity_fraction),
        pressure_pa=_array(pressure_pa),
    )
    doubt = uncertainty or ReadingUncertainty()
    check(fuel, readings, co2_half_width=doubt.co2_fraction, extrapolate=extrapolate)
    return flue_gas(
        fuel,
        readings,
        _figures(fuel, readings, doubt, dissociation=dissociation),
        doubt=doubt,
        calculated=co2_basis == "calculated",
        reference_o2_fraction=reference_o2_fraction,
        dissociation=dissociation,
    )


def analyse_each(
    fuel: Fuel, sets: Sequence[FlueSet], *, reference_o2_fraction: float = 0.0, dissociation: bool = True
) -> list[FlueGas | LightoffError]:
    """What `analyse` tells of each set, or the error that it raises; a few sets take little longer than one.

    Sets that lack the same readings are rows of one analysis; none of them changes what another tells.
    """
    found: dict[int, FlueGas | LightoffError] = {}
    alike: dict[tuple[object, ...], list[int]] = defaultdict(list)
    for index, each in enumerate(sets):
        read, _ = _alone(each)
        try:
            check(fuel, read, co2_half_width=each.uncertainty.co2_fraction, extrapolate=False)
        except LightoffError as error:
            found[index] = error
        else:
            lacks = tuple(getattr(read, name) is None for name in _READ)
            alike[(each.uncertainty.coverage_factor, *lacks)].append(index)
    for rows in alike.values():
        of_rows = [sets[index] for index in rows]
        read, doubt = (_rows(of_rows), _doubts(of_rows)) if len(rows) > 1 else _alone(of_rows[0])
        figures = _figures(fuel, read, doubt, dissociation=dissociation)
        for row, index in enumerate(rows):
            found[index] = flue_gas(
                fuel,
                _alone(sets[index])[0],
                {name: figure.at(row) for name, figure in figures.items()},
                doubt=sets[index].uncertainty,
                calculated=sets[index].co2_basis == "calculated",
                reference_o2_fraction=reference_o2_fraction,
                dissociation=dissociation,
            )
    return [found[index] for index in range(len(sets))]


_READ = tuple(each.name for each in fields(Readings))
_DOUBTED = tuple(each.name for each in fields(ReadingUncertainty) if each.name != "coverage_factor")


def _alone(each: FlueSet) -> tuple[Readings, ReadingUncertainty]:
    return Readings(**{name: _array(getattr(each, name)) for name in _READ}), each.uncertainty


def _rows(sets: Sequence[FlueSet]) -> Readings:
    """The readings of sets that lack the same, a row each."""
    columns = {name: [getattr(each, name) for each in sets] for name in _READ}
    return Readings(**{name: None if None in each else np.array(each) for name, each in columns.items()})


def _doubts(sets: Sequence[FlueSet]) -> ReadingUncertainty:
    return ReadingUncertainty(
        coverage_factor=sets[0].uncertainty.coverage_factor,
        **{name: np.array([getattr(each.uncertainty, name) for each in sets]) for name in _DOUBTED},
    )


def _figures(
    fuel: Fuel, readings: Readings, doubt: ReadingUncertainty, *, dissociation: bool
) -> dict[str, Uncertain]:
    values, standard = _inputs(fuel, readings, doubt)
    return _in_blocks(lambda: FlueChain(fuel, dissociation=dissociation), values, standard)


# Rows worked at once: a block's arrays stay in the processor's cache.
_BLOCK_ROWS = 12288


def _in_blocks(
    chain: Callable[[], FlueChain], values: Mapping[str, Array], standard: Mapping[str, Array]
) -> dict[str, Uncertain]:
    shape = np.broadcast_shapes(*(each.shape for each in values.values()))
    rows = shape[0] if shape else 1
    if rows <= _BLOCK_ROWS:
        return _of_block(chain(), values, standard)

    whole: dict[str, Uncertain] = {}
    for start in range(0, rows, _BLOCK_ROWS):
        block = slice(start, start + _BLOCK_ROWS)
        part, doubt = (
            {name: each[block] if each.ndim else each for name, each in inputs.items()}
            for inputs in (values, standard)
        )
        figures = _of_block(chain(), part, doubt)
        if not whole:
            whole = {
                name: figure if np.ndim(figure.value) == 0 else _room(rows)
                for name, figure in figures.items()
            }
        for name, figure in figures.items():
            if np.ndim(figure.value):  # else it is one number in every block
                np.asarray(whole[name].value)[block] = figure.value
                np.asarray(whole[name].standard_uncertainty)[block] = figure.standard_uncertainty
    return whole


def _room(rows: int) -> Uncertain:
    value, doubt = np.empty((2, rows))
    return Uncertain(value=value, standard_uncertainty=doubt)


def _of_block(
    chain: FlueChain, values: Mapping[str, Array], standard: Mapping[str, Array]
) -> dict[str, Uncertain]:
    """The chain's figures, and the dew point, which follows from one of them alone."""
    figures = propagate(chain, values, standard)
    if "vapour_pressure" in figures:
        figures["dew_point"] = through(air.dew_point_k, figures["vapour_pressure"])
    return figures


def _array(value: Real | None) -> Array | None:
    return None if value is None else real(value)


def _inputs(
    fuel: Fuel, readings: Readings, doubt: ReadingUncertainty
) -> tuple[dict[str, Array], dict[str, Array]]:
    """Every uncertain input by name, and its standard uncertainty."""
    pairs: dict[str, tuple[Array | None, Real]] = {
        "o2_dry": (readings.o2_dry_fraction, doubt.o2_fraction),
        "o2_wet": (readings.o2_wet_fraction, doubt.o2_fraction),
        "co2": (readings.co2_dry_fraction, doubt.co2_fraction),
        "co": (readings.co_dry_fraction, doubt.co_fraction),
        "stack": (readings.stack_temperature_k, doubt.stack_temperature_k),
        "intake": (readings.combustion_air_temperature_k, doubt.combustion_air_temperature_k),
        "humidity": (readings.relative_humidity_fraction, doubt.relative_humidity_fraction),
        "pressure": (readings.pressure_pa, doubt.pressure_pa),
    }
    values = {name: value for name, (value, _) in pairs.items() if value is not None}
    standard = {name: real(pairs[name][1]) / doubt.coverage_factor for name in values}
    for name, entry in (
        ("hydrogen", fuel.hydrogen_fraction),
        ("oxygen", fuel.oxygen_fraction),
        ("heat", fuel.heating_value_j_kg),
    ):
        values[name] = real(entry.value)
        standard[name] = real(entry.half_width / 2.0)  # a Fuel's widths have coverage 2
    return values, standard

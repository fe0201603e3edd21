"""What an analysis of flue readings tells, put together from the figures of the chain."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from lightoff.ground.message import Message, message
from lightoff.ground.values import dataclass
from lightoff.physics import air, burn, loss
from lightoff.physics.acid import highest_acid_dew_point_k
from lightoff.physics.flue_problems import Readings, marked
from lightoff.physics.fuel import Fuel, largest_co2_half_width
from lightoff.physics.uncertain import Real, Uncertain, plain

Truth: TypeAlias = bool | NDArray[np.bool_]
_AIR_O2 = air.OXYGEN_IN_DRY_AIR_FRACTION


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingUncertainty:
    """Expanded uncertainties of the readings, U = coverage factor x standard; left out counts as exact.

    Each a float or an array, in the unit of its reading.
    """

    o2_fraction: Real = 0.0
    co2_fraction: Real = 0.0
    co_fraction: Real = 0.0
    stack_temperature_k: Real = 0.0
    combustion_air_temperature_k: Real = 0.0
    relative_humidity_fraction: Real = 0.0
    pressure_pa: Real = 0.0
    coverage_factor: float = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Co2Agreement:
    """Measured carbon dioxide held against what this fuel shows beside this oxygen.

    `gap_fraction` is measured less expected; the two agree while it is no larger than
    `allowed_fraction`, the widths of both instruments added, and that of the fuel.
    """

    expected_fraction: Real
    gap_fraction: Real
    allowed_fraction: Real
    agree: Truth


@dataclass(frozen=True, slots=True, kw_only=True)
class SiegertAlarm:
    """The independent formula beside the exact loss: `gap_fraction` is exact less Siegert's."""

    loss_fraction: Real
    gap_fraction: Real
    allowed_fraction: Real
    differs: Truth


@dataclass(frozen=True, slots=True, kw_only=True)
class FlueGas:
    """How the fuel burns, each figure with its uncertainty; None where a reading for it was not given.

    Losses and efficiencies are of combustion alone: what the casing loses is not in them. "Referred"
    figures are for 15 degC and sea level, so that visits compare: `air_ratio_referred` is the air ratio
    that the same fan volume and fuel mass give in dry air there; `stack_loss_referred_fraction` is the
    net loss of this burn with the same rise above an intake of dry air at 15 degC. The acid dew point is
    that of the most sulphur that the fuel may hold.
    """

    fuel: str
    air_ratio: Uncertain
    air_ratio_from: Literal["o2", "co2"]
    excess_air_fraction: Uncertain
    air_ratio_from_o2: Uncertain | None
    air_ratio_from_co2: Uncertain | None
    o2_dry_fraction: Uncertain
    co2_dry_fraction: Uncertain
    co2_largest_fraction: float
    agreement: Co2Agreement | None
    fuel_factor: Uncertain | None
    fuel_factor_expected: float
    products: burn.Products
    co_air_free_fraction: Uncertain | None
    co_referred_fraction: Uncertain | None
    reference_o2_fraction: float
    stack_rise_k: Uncertain | None
    dry_gas_loss_fraction: Uncertain | None
    vapour_loss_fraction: Uncertain | None
    unburned_loss_fraction: Uncertain | None
    stack_loss_net_fraction: Uncertain | None
    latent_loss_gross_fraction: Uncertain
    efficiency_net_fraction: Uncertain | None
    efficiency_gross_fraction: Uncertain | None
    siegert: SiegertAlarm | None
    water_dew_point_k: Uncertain | None
    acid_dew_point_k: Uncertain | None
    flame_temperature_k: Uncertain | None
    flame_with_dissociation: bool
    air_ratio_referred: Uncertain | None
    stack_loss_referred_fraction: Uncertain | None
    cautions: tuple[Message, ...]


def flue_gas(
    fuel: Fuel,
    readings: Readings,
    figures: Mapping[str, Uncertain],
    *,
    doubt: ReadingUncertainty,
    calculated: bool,
    reference_o2_fraction: float,
    dissociation: bool,
) -> FlueGas:
    """The figures of one analysis with what follows from them; `calculated` is the carbon dioxide."""
    ratio, s = figures["air_ratio"], fuel.stoichiometry
    co = readings.co_dry_fraction
    water = figures["water_per_dry_air"].value
    gas = burn.products(
        s,
        air_ratio=ratio.value,
        co_dry_fraction=0.0 if co is None else co,
        water_per_dry_air=water,
    )
    from_o2 = ratio if readings.holds_oxygen else None
    free = figures.get("co_air_free")
    net_loss = figures.get("loss_net")
    vapour = figures.get("vapour_pressure")
    dew_point = figures.get("dew_point")
    acid = None
    if vapour is not None and readings.pressure_pa is not None:
        acid = highest_acid_dew_point_k(
            fuel,
            wet_gas_mol_kg=gas.wet_mol_kg,
            vapour_pressure_pa=vapour,
            pressure_pa=readings.pressure_pa,
        )
    agreement = None if calculated else _agreement(fuel, readings, figures, doubt=doubt)
    alarm = _siegert(readings, figures)
    return FlueGas(
        fuel=fuel.key,
        air_ratio=ratio,
        air_ratio_from="co2" if from_o2 is None else "o2",
        excess_air_fraction=replace(ratio, value=ratio.value - 1.0),
        air_ratio_from_o2=from_o2,
        air_ratio_from_co2=figures.get("from_co2"),
        o2_dry_fraction=figures["o2_dry"],
        co2_dry_fraction=figures["co2_dry"],
        co2_largest_fraction=s.largest_dry_co2_fraction,
        agreement=agreement,
        fuel_factor=None if calculated else figures.get("fuel_factor"),
        fuel_factor_expected=s.fuel_factor,
        products=gas,
        co_air_free_fraction=free,
        co_referred_fraction=None
        if free is None
        else _scaled(free, (_AIR_O2 - reference_o2_fraction) / _AIR_O2),
        reference_o2_fraction=reference_o2_fraction,
        stack_rise_k=figures.get("rise"),
        dry_gas_loss_fraction=figures.get("dry_gas_loss"),
        vapour_loss_fraction=figures.get("vapour_loss"),
        unburned_loss_fraction=None if co is None else figures.get("unburned_loss"),
        stack_loss_net_fraction=net_loss,
        latent_loss_gross_fraction=figures["latent"],
        efficiency_net_fraction=None if net_loss is None else replace(net_loss, value=1.0 - net_loss.value),
        efficiency_gross_fraction=figures.get("efficiency_gross"),
        siegert=alarm,
        water_dew_point_k=dew_point,
        acid_dew_point_k=acid,
        flame_temperature_k=figures.get("flame"),
        flame_with_dissociation=dissociation,
        air_ratio_referred=figures.get("referred"),
        stack_loss_referred_fraction=figures.get("loss_referred"),
        cautions=_cautions(
            readings, figures, calculated=calculated, alarm=alarm, dew_point=dew_point, acid=acid
        ),
    )


def _scaled(figure: Uncertain, factor: float) -> Uncertain:
    if factor == 1.0:
        return figure
    return Uncertain(value=factor * figure.value, standard_uncertainty=factor * figure.standard_uncertainty)


def _truth(value: NDArray[np.bool_] | np.bool_) -> Truth:
    return bool(value) if np.ndim(value) == 0 else np.asarray(value)


def _agreement(
    fuel: Fuel, readings: Readings, figures: Mapping[str, Uncertain], *, doubt: ReadingUncertainty
) -> Co2Agreement | None:
    """None without both gases. The fuel's own width moves its largest CO2 and with it the line."""
    if readings.co2_dry_fraction is None or not readings.holds_oxygen:
        return None
    o2 = figures["o2_dry"].value
    co = 0.0 if readings.co_dry_fraction is None else readings.co_dry_fraction
    expected = burn.co2_expected_fraction(fuel, o2_dry_fraction=o2, co_dry_fraction=co)
    widths = burn.co2_agreement_half_width(
        fuel, o2_half_width=doubt.o2_fraction, co2_half_width=doubt.co2_fraction
    )
    allowed = widths + expected * largest_co2_half_width(fuel) / fuel.stoichiometry.largest_dry_co2_fraction
    gap = readings.co2_dry_fraction - expected
    return Co2Agreement(
        expected_fraction=expected,
        gap_fraction=plain(gap),
        allowed_fraction=plain(allowed),
        agree=_truth(np.abs(gap) <= allowed),
    )


def _siegert(readings: Readings, figures: Mapping[str, Uncertain]) -> SiegertAlarm | None:
    if "loss_net" not in figures:
        return None
    stack, intake = readings.stack_temperature_k, readings.combustion_air_temperature_k
    assert stack is not None
    assert intake is not None
    other = loss.siegert_loss_fraction(
        o2_dry_fraction=figures["o2_dry"].value,
        stack_temperature_k=stack,
        combustion_air_temperature_k=intake,
    )
    gap = np.asarray(figures["loss_net"].value) - other
    allowed = loss.siegert_gap_allowed_fraction(stack)
    return SiegertAlarm(
        loss_fraction=other,
        gap_fraction=plain(gap),
        allowed_fraction=allowed,
        differs=_truth(np.abs(gap) > allowed),
    )


def _cautions(
    readings: Readings,
    figures: Mapping[str, Uncertain],
    *,
    calculated: bool,
    alarm: SiegertAlarm | None,
    dew_point: Uncertain | None,
    acid: Uncertain | None,
) -> tuple[Message, ...]:
    found: list[Message] = []
    if readings.co_dry_fraction is None:
        found.append(message("physics.co_not_measured"))
    if readings.relative_humidity_fraction is None and (
        readings.o2_wet_fraction is not None or dew_point is not None
    ):
        found.append(message("physics.dry_air_assumed"))
    if calculated and readings.co2_dry_fraction is not None:
        found.append(message("physics.co2_calculated"))
    if not readings.holds_oxygen:
        found.append(message("physics.from_co2_alone"))
    marks = {"physics.o2_extrapolated": np.asarray(figures["o2_dry"].value) > burn.HIGHEST_O2_FRACTION}
    if readings.co_dry_fraction is not None:
        marks["physics.co_extrapolated"] = readings.co_dry_fraction > burn.HIGHEST_CO_FRACTION
    if alarm is not None:
        marks["physics.siegert_differs"] = np.asarray(alarm.differs)
    if dew_point is not None and readings.stack_temperature_k is not None:
        wet = np.asarray(readings.stack_temperature_k < dew_point.value)
        marks["physics.condensing"] = wet
        if acid is not None:
            marks["physics.acid_condensing"] = (readings.stack_temperature_k < acid.value) & ~wet
    found.extend(marked(message(key), np.asarray(rows)) for key, rows in marks.items() if np.any(rows))
    return tuple(found)

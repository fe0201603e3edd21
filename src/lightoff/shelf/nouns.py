"""Tables of the shelf's files into frozen nouns, each value checked where it stands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace
from decimal import Decimal
from types import MappingProxyType

from lightoff.ground import units
from lightoff.ground.sources import SOURCES
from lightoff.physics.fuel import Fuel, Sourced, ViscosityPoint, fuel_from_data_sheet
from lightoff.shelf.files import Table, hash_of
from lightoff.shelf.scaling import usual
from lightoff.terms.shelf import (
    Accuracy,
    CatalogueEntry,
    Comparison,
    Feed,
    Gate,
    InstrumentClass,
    Interval,
    Limit,
    Sheet,
)

WITHOUT_SOURCE = ("common practice, no source", "from memory, unverified", "invented")
_EFFECTS = ("stop", "not fit", "not proven")
_BASES = ("practice", "maker", "legal", "health", "method")
_STOPS = ("leave the vehicle", "do not fire", "do not energise", "do not drink")


def limit_of(table: Table) -> Limit:
    """One row of the limits table."""
    table.known(
        (
            "key",
            "quantity",
            "comparison",
            "value",
            "tolerance",
            "unit",
            "states",
            "kinds",
            "stops",
            "gate",
            "effect",
            "basis",
            "source",
        )
    )
    comparison = Comparison(table.chosen("comparison", tuple(Comparison)))
    effect = table.chosen("effect", _EFFECTS)
    states, value = table.texts("states"), table.number_or_none("value")
    by_state = comparison in (Comparison.ONE_OF, Comparison.NONE_OF)
    if by_state and not states:
        raise table.refuse("missing", "states")
    if not by_state and value is None:
        raise table.refuse("missing", "value")
    tolerance = table.number("tolerance") if comparison is Comparison.EQUALS_WITHIN else None
    return Limit(
        key=table.text("key"),
        quantity=table.text("quantity"),
        comparison=comparison,
        gate=Gate(table.chosen("gate", tuple(Gate))),
        effect=effect,
        basis=table.chosen("basis", _BASES),
        source=_source(table, table.text("source")),
        value=value,
        tolerance=tolerance,
        unit="" if by_state else _unit(table),
        states=states,
        stops=table.chosen("stops", _STOPS) if effect == "stop" else "",
        kinds=table.texts("kinds"),
    )


def entry_of(table: Table) -> CatalogueEntry:
    """One reading of the catalogue."""
    table.known(
        (
            "key",
            "area",
            "dimension",
            "unit",
            "states",
            "bases",
            "classes",
            "place",
            "minutes",
            "opens",
            "caution",
            "kit",
            "twice",
            "needs",
            "possible_low",
            "possible_high",
            "plausible_low",
            "plausible_high",
            "label",
            "how",
        )
    )
    states = table.texts("states")
    dimension = table.text("dimension", "count" if states else None)
    if dimension not in units.DIMENSIONS:
        raise table.refuse("not_chosen", "dimension", value=dimension, possible=", ".join(units.DIMENSIONS))
    unit = "" if states else _unit(table)
    if not states and unit not in units.units_of(dimension):
        possible = ", ".join(units.units_of(dimension))
        raise table.refuse("not_chosen", "unit", value=unit, possible=possible)
    return CatalogueEntry(
        key=table.text("key"),
        area=table.text("area"),
        dimension=dimension,
        unit=unit,
        states=states,
        bases=table.texts("bases"),
        classes=table.texts("classes"),
        place=table.text("place", ""),
        minutes=float(table.number("minutes")),
        opens=table.chosen("opens", ("", "fuel", "exhaust", "coolant", "electric"), ""),
        caution=table.text("caution", ""),
        kit=table.whole("kit", 1, 3),
        twice=table.truth("twice"),
        needs=table.texts("needs"),
        possible_low=table.number_or_none("possible_low"),
        possible_high=table.number_or_none("possible_high"),
        plausible_low=table.number_or_none("plausible_low"),
        plausible_high=table.number_or_none("plausible_high"),
        label=table.text("label", ""),
        how=table.text("how", ""),
    )


def class_of(table: Table) -> InstrumentClass:
    """One instrument class with what it reads and how well."""
    table.known(("key", "electronic", "reads"))
    found = {}
    for reads in table.tables("reads"):
        reads.known(("key", "absolute", "relative", "unit", "low", "high", "source"))
        low, high = reads.number("low"), reads.number("high")
        if low >= high:
            raise reads.refuse("low_above_high", "low", value=str(low), high=str(high))
        found[reads.text("key")] = Accuracy(
            key=reads.text("key"),
            absolute=_not_negative(reads, "absolute"),
            relative=_not_negative(reads, "relative"),
            unit=_unit(reads),
            low=low,
            high=high,
            source=_source(reads, reads.text("source")),
        )
    return InstrumentClass(
        key=table.text("key"), electronic=table.truth("electronic"), accuracies=MappingProxyType(found)
    )


def fuel_of(key: str, table: Table) -> Fuel:
    """One fuel by its data sheet."""
    table.known(
        (
            "name",
            "carbon",
            "hydrogen",
            "oxygen",
            "sulphur",
            "moisture",
            "sulphur_most_mg_kg",
            "density_15c_kg_m3",
            "caution",
            "gross_heat_mj_kg",
            "net_heat_mj_kg",
            "viscosity_mm2_s",
        )
    )
    held = [name for name in ("gross_heat_mj_kg", "net_heat_mj_kg") if name in table.values]
    if len(held) != 1:
        raise table.refuse("one_heat", "gross_heat_mj_kg")
    share = {name: _sourced(table, name) for name in _FUEL_SHARES if name in table.values}
    density, heat = _sourced(table, "density_15c_kg_m3"), _sourced(table, held[0], factor=1e6)
    points = _viscosity(table)
    if "hydrogen" not in share:
        raise table.refuse("missing", "hydrogen")
    fuel = fuel_from_data_sheet(
        key=key,
        name=table.text("name"),
        density_15c_kg_m3=density.value,
        heating_value_j_kg=heat.value,
        heating_value_basis="gross" if held[0].startswith("gross") else "net",
        hydrogen_fraction=share["hydrogen"].value,
        oxygen_fraction=share["oxygen"].value if "oxygen" in share else 0.0,
        sulphur_fraction=share["sulphur"].value if "sulphur" in share else 0.0,
        moisture_fraction=share["moisture"].value if "moisture" in share else 0.0,
        carbon_fraction=share["carbon"].value if "carbon" in share else None,
        cloud_point_caution=table.text("caution", "fuel_caution.waxes"),
    )
    return replace(
        fuel,
        carbon_fraction=_own(share.get("carbon"), fuel.carbon_fraction),
        hydrogen_fraction=_own(share["hydrogen"], fuel.hydrogen_fraction),
        oxygen_fraction=_own(share.get("oxygen"), fuel.oxygen_fraction),
        sulphur_fraction=_own(share.get("sulphur"), fuel.sulphur_fraction),
        moisture_fraction=_own(share.get("moisture"), fuel.moisture_fraction),
        density_15c_kg_m3=_own(density, fuel.density_15c_kg_m3),
        heating_value_j_kg=_own(heat, fuel.heating_value_j_kg),
        viscosity_points=points,
        sulphur_most_fraction=(
            _sourced(table, "sulphur_most_mg_kg", factor=1e-6)
            if "sulphur_most_mg_kg" in table.values
            else None
        ),
    )


_FUEL_SHARES = ("carbon", "hydrogen", "oxygen", "sulphur", "moisture")
# Of a number that stands alone, as on a supplier's sheet; its half width is the physics' own.
_SUPPLIER = "maker_data_sheet"


def _own(written: Sourced | None, usual: Sourced) -> Sourced:
    """What the file says where it gives its own half width and source."""
    return usual if written is None or written.source == _SUPPLIER else written


# Fields of a sheet's file: (field, of the noun, unit of people, whether it must be there).
SHEET_NUMBERS = (
    ("heat_output_kw", "heat_output_w", "kW"),
    ("fuel_flow_kg_h", "fuel_flow_kg_s", "kg/h"),
    ("supply_v", "supply_v", "V"),
    ("igniter_w", "igniter_w", "W"),
    ("igniter_v", "igniter_v", "V"),
    ("fan_current_a", "fan_current_a", "A"),
    ("compressor_current_a", "compressor_current_a", "A"),
    ("pump_current_a", "pump_current_a", "A"),
    ("light_off_low_s", "light_off_low_s", "s"),
    ("light_off_high_s", "light_off_high_s", "s"),
    ("pre_purge_s", "pre_purge_s", "s"),
    ("after_run_s", "after_run_s", "s"),
    ("coolant_volume_l", "coolant_volume_m3", "L"),
    ("thermostat_off_degc", "thermostat_off_k", "degC"),
    ("high_limit_degc", "high_limit_k", "degC"),
    ("o2_dry_low_percent", "o2_dry_low_fraction", "%"),
    ("o2_dry_high_percent", "o2_dry_high_fraction", "%"),
    ("atomising_pressure_kpa", "atomising_gauge_pressure_pa", "kPa"),
    ("low_voltage_cut_out_v", "low_voltage_cut_out_v", "V"),
)
SHEET_SAID = (
    ("stack_temperature_highest_degc", "stack_temperature_highest_k", "degC"),
    ("stack_temperature_rated_degc", "stack_temperature_rated_k", "degC"),
    ("fan_flow_m3_h", "fan_flow_m3_s", "m3/h"),
    ("fan_speed_rpm", "fan_speed_hz", "rpm"),
    ("igniter_cold_ohm", "igniter_cold_ohm", "ohm"),
    ("jacket_area_m2", "jacket_area_m2", "m2"),
)
"""Numbers that no law scales: what the plate or the manual does not say is not known."""
_RISING = (
    ("light_off_low_s", "light_off_high_s"),
    ("o2_dry_low_percent", "o2_dry_high_percent"),
    ("thermostat_off_degc", "high_limit_degc"),
    ("low_voltage_cut_out_v", "supply_v"),
    ("stack_temperature_rated_degc", "stack_temperature_highest_degc"),
)
# Above the net heat of a kilogram of any fuel here. Basis: common practice, no source.
_MOST_HEAT_J_KG = 44e6
# Of that at least half arrives as rated heat; less is a slip of the pen or of a unit. Judgement, no source.
_LEAST_SHARE = 0.5
# A control that gives up early asks for a look into the chamber early.
_FEWEST_TRIALS = 2
SHEET_TEXTS = ("fastening", "igniter_holder", "window", "inlet")
# Lowest and highest that a small hydronic heater's plate can bear. Basis: common practice, no source.
_SHEET_BOUNDS = {
    "heat_output_kw": ("1", "60"),
    "fuel_flow_kg_h": ("0.1", "8"),
    "supply_v": ("6", "60"),
    "igniter_w": ("20", "600"),
    "igniter_v": ("6", "60"),
    "coolant_volume_l": ("1", "500"),
    "light_off_low_s": ("2", "600"),
    "light_off_high_s": ("2", "900"),
    "after_run_s": ("0", "1200"),
    "pre_purge_s": ("0", "600"),
    "thermostat_off_degc": ("40", "110"),
    "high_limit_degc": ("60", "140"),
    "o2_dry_low_percent": ("1", "15"),
    "o2_dry_high_percent": ("2", "18"),
    "stack_temperature_highest_degc": ("100", "700"),
    "stack_temperature_rated_degc": ("100", "600"),
    "fan_flow_m3_h": ("1", "200"),
    "fan_speed_rpm": ("300", "30000"),
    "igniter_cold_ohm": ("0.02", "50"),
    "jacket_area_m2": ("0.02", "5"),
}


SHEET_SERVICE = (
    ("service_hours", "run_hours", "h"),
    ("service_starts", "starts", "count"),
    ("service_months", "months", "count"),
)
"""Fields of a sheet's file that say when the maker asks for a complete service: field, clock, unit."""
SERVICE_BOUNDS = {"run_hours": (10, 20_000), "starts": (10, 100_000), "months": (1, 120)}
"""Beyond these an interval is a slip of the pen. Common practice, no source."""


def sheet_of(table: Table) -> Sheet:
    """The rated values of one heater type; what its file leaves out is estimated, and marked so."""
    table.known(
        (
            *(field for field, _, _ in (*SHEET_NUMBERS, *SHEET_SAID)),
            *SHEET_TEXTS,
            *(field for field, _, _ in SHEET_SERVICE),
            "renewals",
            "key",
            "name",
            "invented",
            "source",
            "feed",
            "trials",
            "estimated",
            "tightens",
        )
    )
    numbers, typed, filled = {}, {}, list[str]()
    for field, noun, unit in SHEET_NUMBERS:
        value = table.number_or_none(field)
        if value is None:
            value = usual(field, heat_kw=table.number("heat_output_kw"), supply_v=table.number("supply_v"))
            filled.append(noun)
        if value is None:
            raise table.refuse("missing", field)
        typed[field] = value
        numbers[noun] = units.to_si(value, unit)
    for field, noun, unit in SHEET_SAID:
        value = table.number_or_none(field)
        if value is not None:
            typed[field] = value
            numbers[noun] = units.to_si(value, unit)
    for field, value in typed.items():
        low, high = (Decimal(each) for each in _SHEET_BOUNDS.get(field, ("0", "1000000")))
        if not low <= value <= high:
            raise table.refuse("out_of_bounds", field, value=str(value), low=str(low), high=str(high))
    for lower, upper in _RISING:
        if lower in typed and upper in typed and typed[lower] >= typed[upper]:
            raise table.refuse("low_above_high", lower, value=str(typed[lower]), high=upper)
    if numbers["heat_output_w"] >= numbers["fuel_flow_kg_s"] * _MOST_HEAT_J_KG:
        raise table.refuse("more_heat_than_fuel", "heat_output_kw")
    if numbers["heat_output_w"] < _LEAST_SHARE * numbers["fuel_flow_kg_s"] * _MOST_HEAT_J_KG:
        raise table.refuse("less_heat_than_fuel", "fuel_flow_kg_h")
    estimated, known = table.texts("estimated"), [each.name for each in fields(Sheet)]
    for each in estimated:
        if each not in known:
            raise table.refuse("not_chosen", "estimated", value=each, possible=", ".join(known))
    tightens = dict(table.named_numbers("tightens"))
    return Sheet(
        key=table.text("key"),
        name=table.text("name"),
        sha256=hash_of(table.values),
        source=_source(table, table.text("source")),
        invented=table.truth("invented"),
        feed=Feed(table.chosen("feed", tuple(Feed), Feed.UNKNOWN)),
        trials=table.whole("trials", 1, 10) if "trials" in table.values else _FEWEST_TRIALS,
        tightens=MappingProxyType(tightens),
        estimated=tuple(dict.fromkeys((*estimated, *filled))),
        fastening=table.text("fastening", ""),
        igniter_holder=table.text("igniter_holder", ""),
        window=table.text("window", ""),
        inlet=table.text("inlet", ""),
        service=_interval(table, {field: clock for field, clock, _ in SHEET_SERVICE}),
        renewals=MappingProxyType(
            {
                part: _interval(each, {clock: clock for clock in SERVICE_BOUNDS}, strict=True)
                for part, each in table.named_tables("renewals")
            }
        ),
        **numbers,
    )


def _interval(table: Table, clocks: Mapping[str, str], *, strict: bool = False) -> Interval:
    """What the maker says, field by field; `strict` where nothing else may stand in the table."""
    if strict:
        table.known(tuple(clocks))
    found = {}
    for field, clock in clocks.items():
        value = table.number_or_none(field)
        if value is not None:
            low, high = SERVICE_BOUNDS[clock]
            if not low <= value <= high:
                raise table.refuse("out_of_bounds", field, value=str(value), low=str(low), high=str(high))
            found[clock] = float(value)
    return Interval(**found)


def _unit(table: Table) -> str:
    unit = table.text("unit")
    if unit not in units.UNITS:
        possible = ", ".join(filter(None, units.UNITS))
        raise table.refuse("not_chosen", "unit", value=unit, possible=possible)
    return unit


def _source(table: Table, source: str) -> str:
    if source not in SOURCES and source not in WITHOUT_SOURCE and len(source.split()) < 2:
        raise table.refuse("source_unknown", "source", value=source)
    return source


def _not_negative(table: Table, field: str) -> Decimal:
    value = table.number(field)
    if value < 0:
        raise table.refuse("negative", field, value=str(value))
    return value


def _sourced(table: Table, field: str, *, factor: float = 1.0) -> Sourced:
    """[number, half width, source], or the number alone as a supplier's sheet gives it."""
    value = table.values.get(field)
    if value is None:
        raise table.refuse("missing", field)
    parts = value if isinstance(value, list) else [value, 0, _SUPPLIER]
    if len(parts) != 3 or not isinstance(parts[2], str):
        raise table.refuse("not_sourced", field)
    number, width = (float(table.decimal(field, each)) for each in parts[:2])
    return Sourced(value=number * factor, half_width=width * factor, source=_source(table, parts[2]))


def _viscosity(table: Table) -> tuple[ViscosityPoint, ViscosityPoint] | None:
    rows = table.values.get("viscosity_mm2_s")
    if rows is None:
        return None
    if (
        not isinstance(rows, list)
        or len(rows) != 2
        or not all(isinstance(r, list) and len(r) in (2, 3) for r in rows)
    ):
        raise table.refuse("not_viscosity", "viscosity_mm2_s")
    first, second = (
        ViscosityPoint(
            temperature_k=units.to_si(table.decimal("viscosity_mm2_s", at), "degC"),
            viscosity_m2_s=float(table.decimal("viscosity_mm2_s", value)) * 1e-6,
            source=_source(table, str(source[0]) if source else _SUPPLIER),
        )
        for at, value, *source in rows
    )
    return first, second

"""A visit's readings as the model knows them: SI numbers with their doubt, and where they were read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal

from lightoff.ground import units
from lightoff.physics.coolant import USUAL_GLYCOL_FRACTION, glycol_fraction_of
from lightoff.plant.conditions import Conditions
from lightoff.plant.number import Number, Side
from lightoff.plant.quantities import QUANTITIES
from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.terms.shelf import Catalogue
from lightoff.terms.visit import EventKind, Reading, Stage
from lightoff.work.rated import fuel_of

RATED_FUEL = "diesel_2"
"""What sheets are rated on unless they say otherwise. Common practice, no source."""
_FUEL_KG_M3 = 845.0
"""No. 2 diesel near 15 degC. Common practice, no source."""
AIR_K, HEIGHT_M, COOLANT_K = (213.15, 333.15), (-500.0, 6000.0), (213.15, 420.0)
SHARE, LOAD_W, FREEZE_K = (0.0, 1.0), (0.0, 60_000.0), (205.0, 273.2)
LIQUID_FROM_K = 240.0
"""Where the model is asked at all; below the last, fuel and coolant are no liquids. Judgement, no source."""
DAY_S = 86_400.0
STOOD_S = {
    "this week": 3 * DAY_S,
    "within a month": 15 * DAY_S,
    "this season": 60 * DAY_S,
    "last season": 200 * DAY_S,
    "longer ago": 500 * DAY_S,
}
"""How long it stood by when it last ran well: the middle of what people mean. Common practice, no source.
What is not here tells no time."""
# A bottle is read to some 2 %, a rise of coolant to 1.5 K. Judgement, no source.
_BOTTLE_FRACTION, _RISE_K = 0.02, 1.5


def conditions_of(case: Case, shelf: Shelf, *, stage: Stage = Stage.AS_FOUND) -> Conditions:
    """What surrounds the heater, from the visit's place and readings; where nobody said, the usual.

    As found the air is set as at the last visit; as left it is set for this place, if it was adjusted here.

    What lies where no heater stands (a slip of the pen) is taken as not said: other sentences tell of it.
    """
    place, rated = case.visit.place, shelf.fuels[RATED_FUEL]
    usual = Conditions(fuel=rated, rated_fuel=rated)
    told = ((each.key, si_of(each, shelf.catalogue)) for each in case.visit.readings)
    read = {key: value for key, value in told if value is not None}
    outside = _among(place.air_temperature_k, AIR_K, usual.air_temperature_k)
    air = _among(read.get("combustion_air_temperature"), AIR_K, outside)
    altitude = _among(place.altitude_m, HEIGHT_M, 0.0)
    humidity = _among(place.relative_humidity_fraction, SHARE, usual.relative_humidity_fraction)
    adjusted = any(each.kind is EventKind.ADJUSTED for each in case.visit.events)
    set_at = (altitude, air) if stage is Stage.AS_LEFT and adjusted else _last_set(case)
    return replace(
        usual,
        fuel=fuel_of(case, shelf) or rated,
        altitude_m=altitude,
        air_temperature_k=air,
        relative_humidity_fraction=humidity,
        fuel_temperature_k=max(_among(read.get("fuel_temperature"), AIR_K, air), LIQUID_FROM_K),
        coolant_start_k=max(_among(read.get("coolant_temperature_start"), COOLANT_K, air), LIQUID_FROM_K),
        heat_load_w=_among(read.get("heat_load"), LOAD_W, 0.0),
        tank_level_fraction=_among(read.get("tank_level"), SHARE, usual.tank_level_fraction),
        coolant_glycol_fraction=_glycol(read.get("coolant_freeze_point")),
        since_fired_s=_since_fired(case, stage),
        set_altitude_m=set_at[0],
        set_air_temperature_k=set_at[1],
    )


def _glycol(freeze_point_k: float | None) -> float:
    told = _among(freeze_point_k, FREEZE_K, 0.0)
    return glycol_fraction_of(told) if told else USUAL_GLYCOL_FRACTION


def _since_fired(case: Case, stage: Stage) -> float | None:
    """How long the flame was out: as found by when it last ran well, as left by the clock; None for unknown.

    A start that lit and died leaves what drained before it drained; one that the owner made once more has
    filled the line, whatever came of it.
    """
    if stage is Stage.AS_FOUND:
        torn = told_twice(case, stage=stage)
        said = {key: each for key, each in latest_readings(case, stage=stage).items() if key not in torn}
        run, once_more = (
            said[key].state if key in said else None for key in ("last_good_run", "start_once_more")
        )
        return None if once_more in ("runs well", "no change") else STOOD_S.get(run or "")
    visit = case.visit
    moments = sorted((each for each in visit.events if each.heater == visit.heater), key=lambda each: each.at)
    lit = [each.at for each in moments if each.kind is EventKind.FLAME]
    out = [each.at for each in moments if each.kind is EventKind.FLAME_OUT and lit and each.at <= lit[-1]]
    return (lit[-1] - out[-1]).total_seconds() if out else None


def _among(value: float | None, ends: tuple[float, float], otherwise: float) -> float:
    return value if value is not None and ends[0] <= value <= ends[1] else otherwise


def si_of(reading: Reading, catalogue: Catalogue) -> float | None:
    """The number of a reading in SI; None for none, and for one in a unit that does not measure it."""
    entry, value = catalogue.entries.get(reading.key), reading.value
    if entry is None or not isinstance(value, Decimal) or not value.is_finite():
        return None
    return units.to_si(value, reading.unit) if reading.unit in units.units_of(entry.dimension) else None


def latest_readings(case: Case, *, stage: Stage) -> dict[str, Reading]:
    """The latest reading of each kind of a stage, of this heater, by key.

    What cannot be read as what the model predicts (wet oxygen, calculated carbon dioxide) is left out.
    """
    usable = (
        each
        for each in case.visit.readings
        if each.stage is stage and each.heater == case.heater.id and each.basis not in ("wet", "calculated")
    )
    began = datetime.min.replace(tzinfo=UTC)
    ordered = sorted(usable, key=lambda each: (each.taken_at or began, each.id))
    return dict(sorted({each.key: each for each in ordered}.items()))


def told_twice(case: Case, *, stage: Stage) -> dict[str, tuple[Reading, ...]]:
    """Readings of this heater that stand against each other, by key: by entries in conflict, or in one place
    of the visit at one moment. No clock settles which of them holds."""
    said = [each.says for conflict in case.conflicts for each in conflict.candidates]
    torn: dict[str, list[Reading]] = {}
    for each in said:
        if isinstance(each, Reading) and each.stage is stage and each.heater == case.heater.id:
            torn.setdefault(each.key, []).append(each)
    for one in latest_readings(case, stage=stage).values():
        place = (one.heater, one.slot, one.taken_at)
        there = [each for each in case.visit.readings if (each.heater, each.slot, each.taken_at) == place]
        torn.setdefault(one.key, []).extend(there)
    return {key: tuple(each) for key, each in torn.items() if len({_content(one) for one in each}) > 1}


def _content(reading: Reading) -> tuple[object, ...]:
    return (reading.value, reading.unit, reading.state, reading.at_top, reading.not_had)


def numbers_read(case: Case, catalogue: Catalogue, *, stage: Stage) -> dict[str, Number]:
    """The numbers that the model predicts, as they were read at a stage, by catalogue key."""
    torn = told_twice(case, stage=stage)
    latest = {key: each for key, each in latest_readings(case, stage=stage).items() if key not in torn}
    found = {}
    for key, reading in latest.items():
        number = _number(reading, case, catalogue) if key in QUANTITIES and key in catalogue.entries else None
        if number is not None:
            found[key] = number
    return found | _derived({key: si_of(each, catalogue) for key, each in latest.items()})


def _number(reading: Reading, case: Case, catalogue: Catalogue) -> Number | None:
    """The number with its instrument's standard uncertainty; at the top of a range, what lies beyond it."""
    value = si_of(reading, catalogue)
    if reading.state is not None or (value is None and not reading.at_top):
        return None
    instrument = case.instruments.get(reading.instrument or "")
    classes = (instrument.kind,) if instrument else catalogue.entries[reading.key].classes
    accuracy = next(
        (
            catalogue.classes[each].accuracies[reading.key]
            for each in classes
            if each in catalogue.classes and reading.key in catalogue.classes[each].accuracies
        ),
        None,
    )
    if value is None:
        if accuracy is None:
            return None
        return Number(value=units.to_si(accuracy.high, accuracy.unit), side=Side.ABOVE)
    if accuracy is None:
        return Number(value=value)
    shown = units.from_si(value, accuracy.unit)
    width = max(float(accuracy.absolute), float(accuracy.relative) * abs(shown))
    spread = 0.5 * units.width_to_si(width, accuracy.unit)
    return Number(value=value, spread=spread, side=Side.ABOVE if reading.at_top else Side.EXACT)


def _derived(values: Mapping[str, float | None]) -> dict[str, Number]:
    """Numbers that are worked out of several readings, left out where one is missing."""
    found: dict[str, Number] = {}
    volume, time = values.get("fuel_volume"), values.get("fuel_time")
    if volume and time:
        # The bottle's own doubt is far larger than what the fuel's density adds.
        flow = _FUEL_KG_M3 * volume / time
        found["fuel_flow"] = Number(value=flow, spread=_BOTTLE_FRACTION * flow)
    start, end = values.get("coolant_temperature_start"), values.get("coolant_temperature_end")
    minutes = values.get("warm_up_time")
    if start is not None and end is not None and minutes:
        found["warm_up_rate"] = Number(value=(end - start) / minutes, spread=_RISE_K / minutes)
    return found


def _last_set(case: Case) -> tuple[float, float]:
    """Where the burner was last set: the place of the latest earlier visit, else sea level."""
    usual = (0.0, 288.15)
    for visit in reversed(case.history):
        if visit.place.altitude_m is not None:
            return (
                _among(visit.place.altitude_m, HEIGHT_M, usual[0]),
                _among(visit.place.air_temperature_k, AIR_K, usual[1]),
            )
    return usual

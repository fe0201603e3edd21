"""Find what ails a heater: the case's readings into evidence, the place into conditions, one pure answer."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from lightoff.faultfinding import Bank, Evidence, Finding, Number, Outcome, Side, bank, find
from lightoff.ground import units
from lightoff.plant.conditions import Conditions
from lightoff.plant.quantities import QUANTITIES
from lightoff.shelf import REPAIR, Shelf
from lightoff.terms.case import Case
from lightoff.terms.shelf import Catalogue
from lightoff.terms.visit import Reading, Stage
from lightoff.work.assess_case import fuel_of, sheet_of
from lightoff.work.workshop import Workshop

RATED_FUEL = "diesel_2"
"""What sheets are rated on unless they say otherwise. Common practice, no source."""
_KEPT_BANKS = 4
_banks: OrderedDict[tuple[str, str, Conditions], Bank] = OrderedDict()


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultCase:
    """A finding with what it was found from."""

    case: Case
    conditions: Conditions
    evidence: Evidence
    finding: Finding


def find_fault(workshop: Workshop, visit_id: str, *, pairs: bool = True, whiskers: bool = True) -> FaultCase:
    """The finding of a visit in the book. Raises NotFound."""
    return find_in_case(workshop.book.case(visit_id), workshop.shelf, pairs=pairs, whiskers=whiskers)


def find_in_case(case: Case, shelf: Shelf, *, pairs: bool = True, whiskers: bool = True) -> FaultCase:
    """The finding of a case in hand. Raises NotFound for a sheet that is not on the shelf."""
    conditions, evidence = conditions_of(case, shelf), evidence_of(case, shelf.catalogue)
    classes = frozenset(each.kind for each in case.instruments.values() if not each.retired)
    finding = find(
        bank_of(case, shelf, conditions), evidence, classes=classes, pairs=pairs, whiskers=whiskers
    )
    return FaultCase(case=case, conditions=conditions, evidence=evidence, finding=finding)


def bank_of(case: Case, shelf: Shelf, conditions: Conditions) -> Bank:
    """The bank of this heater type here and today; the last few are kept."""
    sheet = sheet_of(case, shelf)
    key = (shelf.sha256, sheet.sha256, conditions)
    if key not in _banks:
        _banks[key] = bank(
            sheet=sheet,
            conditions=conditions,
            faults=shelf.faults,
            trials=shelf.trials,
            catalogue=shelf.catalogue,
        )
        while len(_banks) > _KEPT_BANKS:
            _banks.popitem(last=False)
    _banks.move_to_end(key)
    return _banks[key]


def conditions_of(case: Case, shelf: Shelf) -> Conditions:
    """What surrounds the heater, from the visit's place and readings; where nobody said, the usual."""
    place, rated = case.visit.place, shelf.fuels[RATED_FUEL]
    usual = Conditions(fuel=rated, rated_fuel=rated)
    read = {each.key: _si(each) for each in case.visit.readings if each.value is not None}
    air = read.get("combustion_air_temperature", place.air_temperature_k) or usual.air_temperature_k
    set_at = _last_set(case)
    return replace(
        usual,
        fuel=fuel_of(case, shelf) or rated,
        altitude_m=place.altitude_m or 0.0,
        air_temperature_k=air,
        relative_humidity_fraction=place.relative_humidity_fraction or usual.relative_humidity_fraction,
        fuel_temperature_k=min(max(read.get("fuel_temperature", air), 240.0), 350.0),
        coolant_start_k=max(read.get("coolant_temperature_start", air), 240.0),
        heat_load_w=read.get("heat_load", 0.0),
        tank_level_fraction=read.get("tank_level", usual.tank_level_fraction),
        set_altitude_m=set_at[0],
        set_air_temperature_k=set_at[1],
    )


NOT_DONE = "could not do"
"""The note of a reading that was asked for and could not be taken."""


def evidence_of(case: Case, catalogue: Catalogue) -> Evidence:
    """What was found before the work: the latest as-found reading of each kind, trials and repairs.

    Readings that cannot be read as what the model predicts (wet oxygen, calculated carbon dioxide, another
    heater's) are left out.
    """
    numbers: dict[str, Number] = {}
    states: dict[str, Mapping[str, float]] = {}
    tried: dict[str, Outcome] = {}
    repaired: dict[str, Outcome] = {}
    latest = _latest(case)
    for key, reading in latest.items():
        entry = catalogue.entries.get(key)
        if entry is None or (_blank(reading) and reading.note == NOT_DONE):
            continue
        if key.startswith(REPAIR):
            repaired[key.removeprefix(REPAIR)] = Outcome(reading.state or NOT_DONE)
        elif entry.area == "trial":
            tried[key] = Outcome(reading.state or NOT_DONE)
        elif reading.state is not None and reading.state in entry.states:
            states[key] = {state: float(state == reading.state) for state in entry.states}
        elif key in QUANTITIES:
            number = _number(reading, case, catalogue)
            if number is not None:
                numbers[key] = number
    numbers |= _derived(latest)
    starts = latest.get("trials_without_flame")
    barred = {key for key, each in latest.items() if each.note == NOT_DONE and _blank(each)}
    return Evidence(
        numbers=numbers,
        states=states,
        trials=tried,
        repairs=repaired,
        not_possible=frozenset(barred),
        starts_without_flame=float(starts.value or 0) if starts else 0.0,
    )


def _blank(reading: Reading) -> bool:
    return reading.value is None and reading.state is None and not reading.at_top


def _latest(case: Case) -> dict[str, Reading]:
    found: dict[str, Reading] = {}
    usable = (
        each
        for each in case.visit.readings
        if each.stage is Stage.AS_FOUND and each.heater == case.heater.id and _speaks(each)
    )
    began = datetime.min.replace(tzinfo=UTC)
    for reading in sorted(usable, key=lambda each: (each.taken_at or began, each.id)):
        found[reading.key] = reading
    return dict(sorted(found.items()))


def _speaks(reading: Reading) -> bool:
    return reading.basis not in ("wet", "calculated")


def _number(reading: Reading, case: Case, catalogue: Catalogue) -> Number | None:
    """The number with its instrument's standard uncertainty; at the top of a range, what lies beyond it."""
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
    if reading.value is None:
        if not reading.at_top or accuracy is None:
            return None
        return Number(value=units.to_si(accuracy.high, accuracy.unit), side=Side.ABOVE)
    value = _si(reading)
    if accuracy is None:
        return Number(value=value)
    shown = units.from_si(value, accuracy.unit)
    width = max(float(accuracy.absolute), float(accuracy.relative) * abs(shown))
    spread = 0.5 * units.width_to_si(width, accuracy.unit)
    return Number(value=value, spread=spread, side=Side.ABOVE if reading.at_top else Side.EXACT)


def _derived(latest: Mapping[str, Reading]) -> dict[str, Number]:
    """Numbers that are worked out of several readings, left out where one is missing."""
    found: dict[str, Number] = {}
    values = {key: _si(each) for key, each in latest.items() if each.value is not None}
    volume, time = values.get("fuel_volume"), values.get("fuel_time")
    if volume and time:
        # At some 845 kg/m3; the bottle's own uncertainty is far larger than what the fuel's density adds.
        found["fuel_flow"] = Number(value=845.0 * volume / time, spread=0.02 * 845.0 * volume / time)
    start, end = values.get("coolant_temperature_start"), values.get("coolant_temperature_end")
    minutes = values.get("warm_up_time")
    if start is not None and end is not None and minutes:
        found["warm_up_rate"] = Number(value=(end - start) / minutes, spread=1.5 / minutes)
    return found


def _si(reading: Reading) -> float:
    return units.to_si(reading.value or 0, reading.unit)


def _last_set(case: Case) -> tuple[float, float]:
    """Where the burner was last set: the place of the latest earlier visit, else sea level."""
    usual = (0.0, 288.15)
    for visit in reversed(case.history):
        if visit.place.altitude_m is not None:
            return visit.place.altitude_m, visit.place.air_temperature_k or usual[1]
    return usual

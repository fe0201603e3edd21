"""Values that make an experienced technician look again, told at the field.

A doubted value is kept if the person insists (`Reading.confirmed`); judging then believes it no more
than its gates allow. Nothing here changes a value; while nobody has answered, what a gate rests on proves
nothing (`asked_about.unanswered`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from fractions import Fraction

from lightoff.ground import units
from lightoff.ground.errors import LightoffError
from lightoff.ground.message import Amount, AsWritten, Message, message
from lightoff.ground.values import dataclass
from lightoff.physics.burn import air_ratio_from_wet_o2, co2_expected_fraction, products
from lightoff.physics.fuel import Fuel
from lightoff.terms.shelf import Catalogue, CatalogueEntry, Sheet
from lightoff.terms.visit import Reading

# Expanded class accuracy of O2 and CO2 together, above which a disagreement is more than scatter.
# Basis: common practice, no source; the verdict uses the class of the very instrument.
_AGREE_WITHIN_FRACTION = 0.006
# What looks like an explanation must lie this much nearer than what was typed.
_CLEARLY_NEARER = 0.5
# A 12 V supply sags below 8 V and charges up to 15 V, a 24 V one twice that: beyond these shares of the rated
# voltage it is more likely another system, or another heater's sheet. Basis: common practice, no source.
_OTHER_SUPPLY_LOW, _OTHER_SUPPLY_HIGH = Fraction(2, 3), Fraction(3, 2)
_SUPPLY = ("supply_voltage_rest", "supply_voltage_igniter")
POSSIBLE_OF_A_PLACE = {"length": (-450.0, 6500.0), "temperature": (180.0, 335.0), "fraction": (0.0, 1.0)}
"""Where a vehicle can stand, SI: the Dead Sea to the highest roads; the coldest and hottest air on record.
From memory, unverified."""
_TEMPERATURES = {"degC": "degF", "degF": "degC"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """Why a reading should be looked at again.

    An `impossible` value no instrument can have shown; an `unusual` one is merely rare.
    """

    reading: str
    key: str
    impossible: bool
    unusual: bool
    said: Message


def doubts(
    readings: Sequence[Reading],
    catalogue: Catalogue,
    fuel: Fuel | None = None,
    *,
    sheet: Sheet | None = None,
) -> tuple[Doubt, ...]:
    """All doubts about these readings, each alone, beside the others of its set, and against the sheet."""
    readings = [each for each in readings if isinstance(each.value, Decimal) and each.value.is_finite()]
    alone = (each for reading in readings for each in _alone(reading, catalogue))
    supply = _other_supply(readings, sheet)
    return (*alone, *_stack_colder(readings), *_against_the_fuel(readings, fuel), *supply)


def _alone(reading: Reading, catalogue: Catalogue) -> Iterable[Doubt]:
    entry = catalogue.entries.get(reading.key)
    if entry is None or reading.value is None or entry.states:
        return
    if reading.unit not in units.units_of(entry.dimension):
        return
    exact = units.exact_si(reading.value, reading.unit)
    written = AsWritten(value=reading.value, unit=reading.unit)
    name = f"@reading.{reading.key}"
    low, high = _span(entry, entry.possible_low, entry.possible_high)
    if _outside(exact, low, high):
        key = "plausible.negative" if reading.value < 0 and low == 0 else "plausible.impossible"
        said = message(key, reading=name, value=written, possible=_possible(entry, low, high))
        other = _other_unit(reading, entry)
        yield _doubt(reading, other or said, impossible=True)
        return
    low, high = _span(entry, entry.plausible_low, entry.plausible_high)
    if _outside(exact, low, high):
        usual = _possible(entry, low, high)
        said = message("plausible.unusual", reading=name, value=written, usual=usual)
        other = _other_unit(reading, entry)
        yield _doubt(reading, other or said, unusual=other is None)


def _span(
    entry: CatalogueEntry, low: Decimal | None, high: Decimal | None
) -> tuple[Fraction | None, Fraction | None]:
    return (
        None if low is None else units.exact_si(low, entry.unit),
        None if high is None else units.exact_si(high, entry.unit),
    )


def _outside(exact: Fraction, low: Fraction | None, high: Fraction | None) -> bool:
    return (low is not None and exact < low) or (high is not None and exact > high)


def _possible(entry: CatalogueEntry, low: Fraction | None, high: Fraction | None) -> Message:
    bounds = {
        name: _bound(entry, bound) for name, bound in (("low", low), ("high", high)) if bound is not None
    }
    key = {2: "plausible.from_to", 1: "plausible.at_least" if low is not None else "plausible.at_most"}
    return message(key[len(bounds)], **bounds)


def _bound(entry: CatalogueEntry, bound: Fraction) -> Amount | AsWritten:
    """In the reader's unit; a share of gas as the catalogue writes it, for rounding would move 20.95 %."""
    if entry.unit == "%":
        share = bound / units.unit(entry.unit).factor
        return AsWritten(value=Decimal(share.numerator) / Decimal(share.denominator), unit=entry.unit)
    return Amount(value=float(bound), dimension=_shown_dimension(entry))


def _shown_dimension(entry: CatalogueEntry) -> str:
    return "trace_gas_fraction" if entry.unit == "ppm" else entry.dimension


def _other_unit(reading: Reading, entry: CatalogueEntry) -> Message | None:
    """The unit in which the same figures would be an everyday value, if there is one."""
    value = reading.value
    if value is None:
        return None
    low, high = _span(entry, entry.plausible_low, entry.plausible_high)
    candidates = (
        (_TEMPERATURES[reading.unit],)
        if reading.unit in _TEMPERATURES
        else tuple(each for each in units.units_of(entry.dimension) if each != reading.unit)
    )
    fits = [each for each in candidates if not _outside(units.exact_si(value, each), low, high)]
    if len(fits) != 1 or (low is None and high is None):
        return None
    written = AsWritten(value=value, unit=reading.unit)
    meant = AsWritten(value=value, unit=fits[0])
    return message("plausible.other_unit", reading=f"@reading.{reading.key}", value=written, meant=meant)


def _doubt(reading: Reading, said: Message, *, impossible: bool = False, unusual: bool = False) -> Doubt:
    return Doubt(reading=reading.id, key=reading.key, impossible=impossible, unusual=unusual, said=said)


def _by_set(readings: Sequence[Reading]) -> dict[tuple[object, ...], dict[str, Reading]]:
    """Numbers by stage, test and set; readings of no set stand with each set of their test."""
    found: dict[tuple[object, ...], dict[str, Reading]] = {}
    for reading in readings:
        if reading.value is not None:
            place = (reading.stage, reading.test, reading.set_number)
            found.setdefault(place, {})[reading.key] = reading
    return found


def _si(reading: Reading | None) -> float | None:
    """The SI value, or None for no reading and for a unit that nobody knows."""
    if reading is None or reading.value is None or reading.unit not in units.UNITS:
        return None
    return units.to_si(reading.value, reading.unit)


def _stack_colder(readings: Sequence[Reading]) -> Iterable[Doubt]:
    """Each exhaust temperature against the intake air of its set, or of its test."""
    for stack in readings:
        stack_k = _si(stack) if stack.key == "stack_gas_temperature" else None
        intakes = [
            (intake_k, each)
            for each in readings
            if each.key == "combustion_air_temperature"
            and (each.stage, each.test) == (stack.stage, stack.test)
            and each.set_number in (stack.set_number, None)
            and (intake_k := _si(each)) is not None
        ]
        if stack_k is None or stack.value is None or not intakes:
            continue
        intake_k, intake = min(intakes, key=lambda pair: pair[0])
        if stack_k < intake_k and intake.value is not None:
            said = message(
                "plausible.stack_colder",
                stack=AsWritten(value=stack.value, unit=stack.unit),
                intake=AsWritten(value=intake.value, unit=intake.unit),
            )
            yield _doubt(stack, said)


def _other_supply(readings: Sequence[Reading], sheet: Sheet | None) -> Iterable[Doubt]:
    """A supply that belongs to another system than the heater's."""
    for reading in readings if sheet is not None else ():
        volts = _si(reading) if reading.key in _SUPPLY else None
        if sheet is None or volts is None or reading.value is None:
            continue
        if not _OTHER_SUPPLY_LOW <= Fraction(volts) / Fraction(sheet.supply_v) <= _OTHER_SUPPLY_HIGH:
            said = message(
                "plausible.other_supply",
                reading=f"@reading.{reading.key}",
                value=AsWritten(value=reading.value, unit=reading.unit),
                rated=Amount(value=sheet.supply_v, dimension="voltage"),
            )
            yield _doubt(reading, said)


def _against_the_fuel(readings: Sequence[Reading], fuel: Fuel | None) -> Iterable[Doubt]:
    if fuel is None:
        return
    largest = float(fuel.stoichiometry.largest_dry_co2_fraction)
    for here in _by_set(readings).values():
        co2, o2 = here.get("flue_co2"), here.get("flue_o2")
        carbon, oxygen = _si(co2), _si(o2)
        if co2 is None or carbon is None:
            continue
        if carbon > largest:
            said = message(
                "plausible.co2_above_fuel",
                value=AsWritten(value=co2.value or Decimal(0), unit=co2.unit),
                largest=Amount(value=largest, dimension="gas_fraction"),
                fuel=fuel.name,
            )
            yield _doubt(co2, said)
        elif o2 is not None and oxygen is not None and o2.basis == "dry" and co2.basis == "measured":
            wet = _wet_for_dry(fuel, oxygen=oxygen, carbon=carbon)
            if wet is not None:
                written = AsWritten(value=o2.value or Decimal(0), unit=o2.unit)
                dry = Amount(value=wet, dimension="gas_fraction")
                yield _doubt(o2, message("plausible.wet_for_dry", value=written, dry=dry))


def _wet_for_dry(fuel: Fuel, *, oxygen: float, carbon: float) -> float | None:
    """The dry O2 share if CO2 says that the O2 was read in the wet gas; None if it does not say so."""
    try:
        short = float(co2_expected_fraction(fuel, o2_dry_fraction=oxygen)) - carbon
        if short <= _AGREE_WITHIN_FRACTION:
            return None
        ratio = air_ratio_from_wet_o2(fuel.stoichiometry, o2_wet_fraction=oxygen)
        gas = products(fuel.stoichiometry, air_ratio=ratio)
        dry, wet = gas.dry_fractions(), gas.wet_fractions()
        nearest = min(abs(float(dry["CO2"]) - carbon), abs(float(wet["CO2"]) - carbon))
    except (LightoffError, ArithmeticError, ValueError):
        return None  # too far from any burn to say why; the verdict calls it a contradiction
    return float(dry["O2"]) if nearest < _CLEARLY_NEARER * short else None

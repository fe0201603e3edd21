"""Why a reading does not count: never taken, not as left, or read and not to be believed; and what to do."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from lightoff.ground import units
from lightoff.ground.message import Amount, AsWritten, Message, Value, message
from lightoff.judging.believed import GATING, SETS, Believed, Judged, accuracy_of
from lightoff.terms.shelf import CatalogueEntry
from lightoff.terms.visit import Reading, Stage

# What to do about a number that no instrument can have shown; all others are checked and read again.
_CURES = {
    "flue_o2": "zero_on_fresh_air",
    "fresh_air_o2_before": "zero_on_fresh_air",
    "fresh_air_o2_after": "zero_on_fresh_air",
}
# The figures that show a reading under another name.
_FIGURES = {
    "flue_co": ("flue_co", "co_air_free"),
    "living_space_co_running": ("living_space_co_rise",),
    "living_space_co_off": ("living_space_co_rise",),
}
# A number with more digits than this is shown as it was typed, not written out.
_MOST_DIGITS = 15
# Of several doubts the one that is told: first what a person can put right in the book.
_TOLD_FIRST = (
    "grouped", "by_photograph", "no_instrument", "no_basis", "typed_uncertainty", "no_time", "late", "at_top",
)  # fmt: skip


def absent_figures(believed: Believed) -> tuple[tuple[str, Stage, str], ...]:
    """Figures that are not shown although they were read: key, stage and why, each once."""
    visit = believed.case.visit
    at_top = {one.reading.id: one.at_top for one in believed.judged}
    found: dict[tuple[str, Stage], str] = {}
    for each in visit.readings:
        if each.heater != visit.heater or (each.value is None and not each.at_top):
            continue
        if at_top.get(each.id) is not False:  # over the top, or no number that a gate could use
            why = "over the top" if at_top.get(each.id) else "not believed"
            for key in _FIGURES.get(each.key, (each.key,)):
                found[key, each.stage] = max(why, found.get((key, each.stage), ""))
    return tuple((key, stage, why) for (key, stage), why in found.items())


def why_open(believed: Believed, key: str) -> Message:
    """Why no reading of `key` can count for the heater: what was read, why it does not count, what to do."""
    mine, left, of_test = _taken(believed, key)
    pool = of_test or left or mine
    doubts = (doubt for each in reversed(pool) if (doubt := why_not(believed, each)) is not None)
    said = next(doubts, None)
    if said is not None:
        return said
    if of_test or not mine:
        return message("judging.missing", what=_name(key))
    return message("judging.other_test" if left else "judging.as_found_only", what=_name(key))


def why_set_open(believed: Believed, key: str, number: int) -> Message:
    """Why set `number` of the test has no reading of `key` that can count, oxygen being needed dry."""
    _, _, of_test = _taken(believed, key)
    for reading in of_test:
        if reading.set_number != number:
            continue
        said = why_not(believed, reading)
        if said is None and reading.basis == "wet":
            said = message("judging.o2_wet", what=_name(key), read=_read(reading))
        if said is not None:
            return said
    name = "set_missing" if number in SETS else "set_without"
    return message(f"judging.{name}", what=_name(key), number=number)


def why_partner_open(believed: Believed, key: str, number: int | None) -> Message:
    """Why no reading of `key` stands beside one of set `number`: as of that set where the test has any."""
    _, _, of_test = _taken(believed, key)
    return why_set_open(believed, key, number) if of_test and number else why_open(believed, key)


def _taken(believed: Believed, key: str) -> tuple[list[Reading], list[Reading], list[Reading]]:
    """The visit's own readings of `key`; those as left; those of the test."""
    visit = believed.case.visit
    mine = [
        each
        for each in visit.readings
        if each.key == key and each.heater == visit.heater and not each.not_had
    ]
    left = [each for each in mine if each.stage is Stage.AS_LEFT]
    return mine, left, [each for each in left if believed.test is not None and each.test == believed.test]


def why_not(believed: Believed, reading: Reading) -> Message | None:
    """Why this reading cannot be believed and what to do; None where nothing is held against it."""
    judged = next((one for one in believed.judged if one.reading is reading), None)
    if judged is None:
        return _junk(believed, reading)
    doubt = next((each for each in _TOLD_FIRST if each in judged.doubts), None)
    return _doubted(judged, doubt) if doubt else None


def _name(key: str) -> str:
    return f"@reading.{key}" if key in GATING else f"“{key}”"


def _doubted(one: Judged, doubt: str) -> Message:
    reading = one.reading
    return message(f"judging.doubt_{doubt}", what=f"@reading.{reading.key}", read=_read(reading))


def _junk(believed: Believed, reading: Reading) -> Message:
    """A value that no gate could use at all."""
    entry = believed.catalogue.entries.get(reading.key)
    if entry is None:
        return message("judging.junk_unknown", what=_name(reading.key))
    if reading.value is None and reading.state is None and not reading.at_top:
        return message("judging.missing", what=f"@reading.{reading.key}")  # a blank is no reading
    facts: dict[str, Value] = {"what": f"@reading.{reading.key}", "read": _read(reading)}
    if entry.states:
        possible = tuple(
            message("list.item", what=f"@state.{each.replace(' ', '_')}") for each in entry.states
        )
        return message("judging.junk_state", **facts, possible=possible)
    if not _is_number(reading.value):
        return message("judging.junk_no_number", **facts)
    if reading.unit not in units.units_of(entry.dimension):
        facts |= {"read": str(reading.value), "unit": reading.unit, "possible": entry.unit}
        return message("judging.junk_unit", **facts)
    cure = f"@cure.{_CURES.get(reading.key, 'read_again')}"
    bounds = _bounds(believed, reading, entry)
    return message("judging.junk_range", **facts, **bounds, cure=cure)


def _is_number(value: object) -> bool:
    return isinstance(value, Decimal) and value.is_finite()


def _read(reading: Reading) -> Value:
    """What stands in the book, as it was typed."""
    value = reading.value
    if (
        isinstance(value, Decimal)
        and value.is_finite()
        and abs(value.adjusted()) < _MOST_DIGITS
        and reading.unit in units.UNITS
    ):
        return AsWritten(value=value, unit=reading.unit)
    if reading.at_top:
        return "----"
    return str(reading.state if reading.value is None else reading.value)


def _bounds(believed: Believed, reading: Reading, entry: CatalogueEntry) -> dict[str, Value]:
    """The lowest and highest figure that can be: of the quantity, and of the meter it was read with."""
    low, high = _written(entry.possible_low, entry.unit), _written(entry.possible_high, entry.unit)
    instrument = believed.case.instruments.get(reading.instrument or "")
    accuracy = accuracy_of(instrument, reading.key, believed.catalogue) if instrument else None
    if accuracy is not None and (low is None or _size(low) < units.exact_si(accuracy.low, accuracy.unit)):
        low = _written(accuracy.low, accuracy.unit)
    return {"low": _shown(low), "high": _shown(high)}


def _shown(bound: AsWritten | None) -> Value:
    """As the catalogue writes it; a temperature in the reader's own unit."""
    if bound is None:
        return ""
    if bound.unit in units.units_of("temperature"):
        return Amount(value=float(_size(bound)), dimension="temperature")
    return bound


def _written(value: Decimal | None, unit: str) -> AsWritten | None:
    return None if value is None else AsWritten(value=value, unit=unit)


def _size(written: AsWritten) -> Fraction:
    return units.exact_si(written.value, written.unit)

"""Tables of the fault file into frozen nouns, checked against the catalogue and the plant's parameters."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from lightoff.plant.parameters import PARAMETERS, Kind
from lightoff.shelf.files import Table
from lightoff.terms.shelf import CatalogueEntry, Fault, Trial

SYSTEMS = (
    "supply",
    "control",
    "flame detection",
    "air",
    "exhaust",
    "ignition",
    "atomising",
    "fuel",
    "burn",
    "coolant",
    "circuit",
    "hot water",
    "operating",
)
"""Where a fault lies. "circuit" is what hangs on the coolant beyond the heater's own."""
WORK = ("nozzle", "fuel_filter", "chamber", "paths", "igniter", "flame_eye", "air_filter", "fuel_joints")
"""Kinds of work that a visit records and a fault may follow."""
OPENS = ("", "fuel", "exhaust", "coolant", "electric")
# What no trial may take out of the way: the chain that shuts the burner off.
NEVER_RESET = ("high_limit_open", "high_limit_offset", "thermostat_offset", "coolant_sensor_offset")
# A weight, a shift, minutes: larger is a slip of the pen. Basis: common practice, no source.
_MOST_WEIGHT, _MOST_SHIFT, _MOST_MINUTES, _MOST_FACTOR = 100.0, 50.0, 3000.0, 100.0


def fault_of(table: Table, *, entries: Mapping[str, CatalogueEntry]) -> Fault:
    """One fault; its readings and states must stand in the catalogue `entries`."""
    table.known(
        (
            "key",
            "system",
            "operating",
            "weight",
            "ground",
            "severity",
            "shifts",
            "shows",
            "proves",
            "after",
            "after_factor",
            "wears",
            "part",
            "uses",
            "needs",
            "minutes",
            "parts_minutes",
            "opens",
            "cautions",
            "swap",
        )
    )
    shifts, shows = _shifts(table), _shows(table, entries)
    if not shifts and not shows:
        raise table.refuse("fault_without_effect", "shifts")
    after = table.each_of("after", WORK)
    return Fault(
        key=table.text("key"),
        system=table.chosen("system", SYSTEMS),
        operating=table.truth("operating"),
        weight=weight_of(table),
        ground=table.text("ground"),
        severity=_severity(table),
        shifts=shifts,
        shows=shows,
        proves=table.each_of("proves", entries),
        after=after,
        after_factor=table.within("after_factor", 1.0, _MOST_FACTOR, 1.0),
        wears=not after or table.truth("wears"),
        part=table.text("part", ""),
        uses=table.text("uses", ""),
        needs=table.each_of("needs", sorted({each for entry in entries.values() for each in entry.classes})),
        minutes=table.within("minutes", 0.0, _MOST_MINUTES),
        parts_minutes=table.within("parts_minutes", 0.0, _MOST_MINUTES, 0.0),
        opens=table.chosen("opens", OPENS, ""),
        cautions=table.each_of("cautions", sorted({each.caution for each in entries.values()} - {""})),
        swap=table.truth("swap"),
    )


def trial_of(table: Table) -> Trial:
    """One run with a known-good part; it never takes out what shuts the burner off."""
    table.known(("key", "resets", "ground", "minutes", "opens", "cautions", "needs", "states"))
    resets = table.each_of("resets", PARAMETERS)
    if not resets:
        raise table.refuse("missing", "resets")
    for each in resets:
        if each in NEVER_RESET:
            raise table.refuse("trial_defeats", "resets", value=each)
    states = table.texts("states")
    if len(states) != 2:
        raise table.refuse("not_two_states", "states")
    return Trial(
        key=table.text("key"),
        resets=resets,
        ground=table.text("ground"),
        minutes=table.within("minutes", 0.0, _MOST_MINUTES),
        opens=table.chosen("opens", OPENS, ""),
        cautions=table.texts("cautions"),
        needs=table.text("needs", ""),
        states=(states[0], states[1]),
    )


def weight_of(table: Table) -> float:
    """How often a fault is met, relative to the others; above nothing."""
    weight = table.within("weight", 0.0, _MOST_WEIGHT)
    if weight == 0:
        raise table.refuse("weight_nothing", "weight")
    return weight


def leaks_of(table: Table, *, entries: Mapping[str, CatalogueEntry]) -> Mapping[str, float]:
    """Chance of a state other than the first without any fault, of every reading that has states."""
    usual = table.within("leak", 0.0, 1.0)
    said = {}
    for key, value in table.named_numbers("leaks"):
        if key not in entries or not entries[key].states:
            raise table.refuse("not_a_state_reading", f"leaks.{key}")
        said[key] = table.bounded(f"leaks.{key}", float(value), 0.0, 1.0)
    return MappingProxyType({key: said.get(key, usual) for key, entry in entries.items() if entry.states})


def _shifts(table: Table) -> Mapping[str, float]:
    found = {}
    for key, value in table.named_numbers("shifts"):
        if key not in PARAMETERS:
            raise table.refuse("not_chosen", "shifts", value=key, possible=", ".join(PARAMETERS))
        share = PARAMETERS[key].kind is Kind.SHARE
        low, high = (0.0, 1.0) if share else (-_MOST_SHIFT, _MOST_SHIFT)
        found[key] = table.bounded(f"shifts.{key}", float(value), low, high)
    return MappingProxyType(found)


def _shows(table: Table, entries: Mapping[str, CatalogueEntry]) -> Mapping[str, Mapping[str, float]]:
    found: dict[str, Mapping[str, float]] = {}
    for key, row in table.named_tables("shows"):
        entry = entries.get(key)
        if entry is None or not entry.states:
            raise table.refuse("not_a_state_reading", f"shows.{key}")
        chances = {}
        for state in row.values:
            if state not in entry.states[1:]:
                possible = ", ".join(entry.states[1:])
                raise table.refuse("not_chosen", f"shows.{key}", value=state, possible=possible)
            chance = float(row.decimal(state, row.values[state]))
            chances[state] = table.bounded(f"shows.{key}", chance, 0.0, 1.0)
        if sum(chances.values()) > 1.0:
            raise table.refuse("chances_above_one", f"shows.{key}")
        found[key] = MappingProxyType(chances)
    return MappingProxyType(found)


def _severity(table: Table) -> tuple[float, float]:
    value = table.values.get("severity")
    if not isinstance(value, list) or len(value) != 2:
        raise table.refuse("not_severity", "severity")
    low, high = (table.bounded("severity", float(table.decimal("severity", v)), 0.0, 1.0) for v in value)
    if low > high or not high:
        raise table.refuse("not_severity", "severity")
    return low, high

"""Made-up heaters whose trouble is known: the judge of fault finding, laid down before it was built.

A world is not the judging model. Its empirical laws (how air, smoke, sparks of an igniter, a filter or a
flame sensor behave) have constants 15 to 30 % away from the model's, each up or down; its faults move their
parameters by as much more or less; how often each fault is met differs by as much; its heaters vary more
and its meters read worse. Within one world all cases share these, so that an oracle can be told them.

Everything is drawn from seeded generators, and nothing here looks at the engine.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from types import ModuleType

import numpy as np

from lightoff.circuit import lumped
from lightoff.heater import air_path, burning, fuel_feed, ignition, sequence, spray, supply
from lightoff.plant import model
from lightoff.plant.conditions import Conditions
from lightoff.plant.model import predict
from lightoff.plant.parameters import COLUMN, PARAMETERS, SPREADS, normal_rows
from lightoff.plant.quantities import QUANTITIES, uncompared
from lightoff.shelf import Shelf
from lightoff.terms.shelf import Fault, Sheet

LAWS: tuple[tuple[ModuleType, str], ...] = (
    (air_path, "INLET_SHARE"),
    (air_path, "EXHAUST_SHARE"),
    (air_path, "FAN_INTERNAL_SHARE"),
    (air_path, "EXHAUST_BACK_PRESSURE_PA"),
    (burning, "CO_FLOOR"),
    (burning, "CO_AT_SMOKE_POINT"),
    (burning, "CO_RICH_WIDTH"),
    (burning, "CO_LEAN_PER_RATIO"),
    (ignition, "NEEDED_SPREAD_K"),
    (ignition, "SEAT_K"),
    (ignition, "HEAT_CAPACITY_PER_WATT_J_K"),
    (fuel_feed, "CLEAN_FILTER_PA"),
    (fuel_feed, "SIPHON_RATED_PA"),
    (fuel_feed, "LINE_LENGTH_M"),
    (sequence, "SIGNAL_NEEDED"),
    (sequence, "SIGNAL_SPREAD"),
    (spray, "RATED_AIR_TO_LIQUID"),
    (supply, "SUPPLY_OHM"),
    (supply, "GROUND_OHM"),
    (supply, "BATTERY_OHM"),
    (lumped, "RATED_RISE_K"),
    (lumped, "METAL_SHARE"),
    (lumped, "HOT_WATER_NTU"),
    (lumped, "PEAK_PER_RISE"),
    (model, "SOOT_W_M_K"),
    (model, "PIPE_SHARE"),
    (model, "SENSOR_OHM"),
    (model, "ROOM_SHARE"),
)
"""Constants of empirical laws that a world has its own values of."""

READS_WORSE = 1.25
VARIES_MORE = 1.2
SEVERITIES = (0.0, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """The laws and faults of one world. `factors` go with LAWS; `smoke_point` is added to the model's."""

    factors: tuple[float, ...]
    smoke_point: float
    faults: Mapping[str, Fault]


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeCase:
    """One heater in trouble: what is wrong (empty: nothing), and every reading that could be taken of it.

    `numbers` SI by reading; `states` by reading. `known` are the readings taken before anybody thinks.
    """

    truth: frozenset[str]
    severity: Mapping[str, float]
    row: np.ndarray
    numbers: Mapping[str, float]
    states: Mapping[str, str]
    known: tuple[str, ...]


def world(seed: int, shelf: Shelf) -> World:
    """A world of its own for this seed."""
    rng = np.random.default_rng([seed, 1])
    faults = {key: _other(fault, rng) for key, fault in shelf.faults.items()}
    return World(
        factors=tuple(float(each) for each in _off(rng, len(LAWS))),
        smoke_point=float(rng.choice([-1, 1]) * rng.uniform(0.15, 0.30) * 0.17),
        faults=faults,
    )


@contextmanager
def living_in(there: World) -> Iterator[None]:
    """Within, the model obeys the laws of that world: how its cases are made, and what an oracle knows."""
    kept = [getattr(module, name) for module, name in LAWS]
    smoke = burning.SMOKE_POINT_AIR_RATIO
    try:
        for (module, name), value, factor in zip(LAWS, kept, there.factors, strict=True):
            setattr(module, name, value * factor)
        burning.SMOKE_POINT_AIR_RATIO = smoke + there.smoke_point  # type: ignore[misc]
        yield
    finally:
        for (module, name), value in zip(LAWS, kept, strict=True):
            setattr(module, name, value)
        burning.SMOKE_POINT_AIR_RATIO = smoke  # type: ignore[misc]


def cases(
    count: int,
    *,
    seed: int,
    there: World,
    shelf: Shelf,
    sheet: Sheet,
    conditions: Conditions,
    singles: float = 0.6,
    doubles: float = 0.2,
    known_share: float = 0.25,
    unit_row: np.ndarray | None = None,
) -> list[MadeCase]:
    """Cases of this world: `singles` and `doubles` by share, the rest with nothing wrong.

    Owner's words, light-off and where the start stopped are always known; each other reading with
    `known_share`. `unit_row` fixes the persistent parameters of one unit (for baselines).
    """
    rng = np.random.default_rng([seed, 2])
    keys = list(there.faults)
    weights = np.array([there.faults[key].weight for key in keys])
    truths, severities, rows = [], [], []
    for _ in range(count):
        kind = rng.random()
        many = 1 if kind < singles else 2 if kind < singles + doubles else 0
        chosen = list(rng.choice(len(keys), size=many, replace=False, p=weights / weights.sum()))
        severity = {keys[at]: float(rng.uniform(*there.faults[keys[at]].severity)) for at in chosen}
        row = normal_rows(rng, 1)[0] * SPREADS * VARIES_MORE
        if unit_row is not None:
            fixed = [at for at, each in enumerate(PARAMETERS.values()) if each.persistent]
            row[fixed] = unit_row[fixed]
        for key, s in severity.items():
            for parameter, shift in there.faults[key].shifts.items():
                row[COLUMN[parameter]] += s * shift
        truths.append(frozenset(severity))
        severities.append(severity)
        rows.append(row)
    stacked = np.array(rows)
    with living_in(there):
        seen = predict(sheet, conditions, stacked)
    made = []
    for at in range(count):
        numbers = _numbers(rng, seen.numeric[at], shelf)
        states = {
            key: _pick(rng, shelf.catalogue.entries[key].states, chances[at])
            for key, chances in seen.chances.items()
            if key in shelf.catalogue.entries
        }
        states |= _shown(rng, there, severities[at], shelf, states)
        gone = _impossible(rng, seen, at)
        numbers = {key: value for key, value in numbers.items() if key not in gone}
        every = [*numbers, *states]
        first = ("owner_says", "light_off", "stop_step")
        known = [key for key in every if key in first or rng.random() < known_share]
        made.append(
            MadeCase(
                truth=truths[at],
                severity=severities[at],
                row=stacked[at],
                numbers=numbers,
                states=states,
                known=tuple(known),
            )
        )
    return made


def _off(rng: np.random.Generator, count: int) -> np.ndarray:
    """Factors 15 to 30 % away from one, up or down alike."""
    away = rng.uniform(1.15, 1.30, count)
    return np.where(rng.random(count) < 0.5, away, 1.0 / away)


def _other(fault: Fault, rng: np.random.Generator) -> Fault:
    factors = _off(rng, len(fault.shifts))
    shifts = {
        key: (min(value * factor, 1.0) if PARAMETERS[key].kind == "share" else value * factor)
        for (key, value), factor in zip(fault.shifts.items(), factors, strict=True)
    }
    shows = {
        reading: {
            state: float(np.clip(chance * factor, 0.0, 0.97))
            for (state, chance), factor in zip(states.items(), _off(rng, len(states)), strict=True)
        }
        for reading, states in fault.shows.items()
    }
    return replace(fault, shifts=shifts, shows=shows, weight=fault.weight * float(_off(rng, 1)[0]))


def _numbers(rng: np.random.Generator, numeric: np.ndarray, shelf: Shelf) -> dict[str, float]:
    """Numbers as a meter of the catalogue's class would show them, a quarter worse than it should."""
    shown = {}
    for at, (key, quantity) in enumerate(QUANTITIES.items()):
        true = float(numeric[at])
        if quantity.floor > 0.0:
            scaled = np.log(max(true, 0.0) + quantity.floor)
            noisy = scaled + rng.normal() * READS_WORSE * quantity.slack
            shown[key] = max(float(uncompared(np.asarray(noisy), at)), 0.0)
        else:
            shown[key] = true + rng.normal() * READS_WORSE * quantity.slack
    return shown


def _pick(rng: np.random.Generator, states: Sequence[str], chances: np.ndarray) -> str:
    return states[int(rng.choice(len(states), p=chances / chances.sum()))]


def _shown(
    rng: np.random.Generator,
    there: World,
    severity: Mapping[str, float],
    shelf: Shelf,
    physical: Mapping[str, str],
) -> dict[str, str]:
    """Looks that only the catalogue of faults predicts: each fault shows its own, seldom something else."""
    found = {}
    readings = {reading for fault in there.faults.values() for reading in fault.shows}
    for reading in sorted(readings - set(physical)):
        states = shelf.catalogue.entries[reading].states
        found[reading] = states[0]
        if rng.random() < 0.025:
            found[reading] = states[int(rng.integers(len(states)))]
        for key in severity:
            for state, chance in there.faults[key].shows.get(reading, {}).items():
                if rng.random() < chance * min(1.0, 0.5 + severity[key] / 2.0):
                    found[reading] = state
    return found


def _impossible(rng: np.random.Generator, seen: model.Prediction, at: int) -> set[str]:
    """Readings that this start does not offer: flue gas without a flame, a time to light without a light."""
    gone: set[str] = set()
    lit, asked = rng.random() < seen.lit[at], rng.random() < seen.asked[at]
    runs = lit and rng.random() < seen.running[at] / max(seen.lit[at], 1e-9)
    for key, quantity in QUANTITIES.items():
        if (
            (quantity.needs_flame and not (lit and (runs or rng.random() < 0.3)))
            or (quantity.needs_trial and not asked)
            or (key == "time_to_light" and not lit)
            or (key == "run_time_before_stop" and (runs or not lit))
        ):
            gone.add(key)
    return gone

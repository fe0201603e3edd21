"""Banks and evidence for the tests of fault finding, from the shipped shelf."""

from __future__ import annotations

from collections.abc import Mapping

import world

from lightoff.faultfinding import Bank, Evidence, Outcome, bank
from lightoff.faultfinding.ages import Age
from lightoff.plant.baseline import Baseline
from lightoff.plant.conditions import Conditions
from lightoff.plant.number import Number, Side
from lightoff.shelf import Shelf, open_shelf

SHELF = open_shelf()


def conditions(*, altitude_m: float = 0.0, air_temperature_k: float = 288.15) -> Conditions:
    """A place and a day, on the usual fuel."""
    fuel = SHELF.fuels["diesel_2"]
    return Conditions(
        fuel=fuel,
        rated_fuel=fuel,
        altitude_m=altitude_m,
        air_temperature_k=air_temperature_k,
        fuel_temperature_k=air_temperature_k,
    )


def bank_of(
    sheet: str,
    here: Conditions,
    *,
    shelf: Shelf = SHELF,
    baseline: Baseline | None = None,
    ages: Mapping[str, Age] | None = None,
) -> Bank:
    """The bank of a shipped heater type."""
    return bank(
        sheet=shelf.sheets[sheet],
        conditions=here,
        faults=shelf.faults,
        trials=shelf.trials,
        catalogue=shelf.catalogue,
        baseline=baseline,
        ages=ages,
    )


def evidence(
    *,
    numbers: Mapping[str, float] | None = None,
    states: Mapping[str, str] | None = None,
    beyond: Mapping[str, tuple[float, Side]] | None = None,
    repairs: Mapping[str, Outcome] | None = None,
    trials: Mapping[str, Outcome] | None = None,
) -> Evidence:
    """Evidence from plain numbers (SI) and states that are sure."""
    told = {key: Number(value=value) for key, value in (numbers or {}).items()}
    told |= {key: Number(value=value, side=side) for key, (value, side) in (beyond or {}).items()}
    return Evidence(
        numbers=told,
        states={key: sure(key, state) for key, state in (states or {}).items()},
        trials=trials or {},
        repairs=repairs or {},
    )


def sure(reading: str, state: str) -> dict[str, float]:
    """All states of a reading, one of them seen."""
    states = SHELF.catalogue.entries[reading].states
    assert state in states, (reading, state, states)
    return {each: float(each == state) for each in states}


def known_of(case: world.MadeCase) -> Evidence:
    """What is known of a made-up case before anybody thinks."""
    return evidence(
        numbers={key: case.numbers[key] for key in case.known if key in case.numbers},
        states={key: case.states[key] for key in case.known if key in case.states},
    )

"""Cases drawn from the judging model itself: its priors, its spreads, its noise, its chances."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from making import evidence

from lightoff.faultfinding import Bank, Evidence
from lightoff.faultfinding.looks import LAST_WORK
from lightoff.faultfinding.observed import gates
from lightoff.plant.model import Prediction
from lightoff.plant.parameters import PARAMETERS
from lightoff.plant.quantities import QUANTITIES, compared, uncompared

BATCH = 64


@dataclass(frozen=True)
class Drawn:
    """One case: what is wrong (places of the faults), and what was read and seen of it."""

    parts: tuple[int, int]
    told: Evidence


def drawn(bank: Bank, count: int, *, seed: int, share: float = 0.25) -> list[Drawn]:
    """Cases; each reading is tried with `share`, and a case in which one cannot be read is drawn anew."""
    rng = np.random.default_rng([seed, 11])
    looks = (*bank.physical, *bank.shown, LAST_WORK)
    cases = []
    while len(cases) < count:
        numbers = [key for key in QUANTITIES if rng.random() < share]
        states = [key for key in looks if rng.random() < share]
        parts = np.array([_wrong(bank, rng) for _ in range(BATCH)])
        severities = rng.random((BATCH, 2))
        tail = bank.beliefs.tail
        scale = tail / rng.chisquare(tail, size=BATCH)
        moved = rng.normal(size=(BATCH, len(PARAMETERS))) * np.sqrt(scale)[:, None]
        seen = bank.predict(bank.shifts(parts, severities) + (moved @ bank.root.T) * bank.spreads)
        asked = evidence(numbers=dict.fromkeys(numbers, 1.0))
        there = np.exp(gates(asked, seen.lit, seen.running / np.maximum(seen.lit, 1e-12), seen.asked))
        could = np.flatnonzero(rng.random(BATCH) < there)
        if could.size:
            at = int(could[0])
            told = evidence(
                numbers=_numbers(bank, rng, seen, at, numbers, float(scale[at])),
                states={key: _state(bank, rng, seen, at, key, parts, severities) for key in states},
            )
            cases.append(Drawn((int(parts[at, 0]), int(parts[at, 1])), told))
    return cases


def _wrong(bank: Bank, rng: np.random.Generator) -> tuple[int, int]:
    """Places of what is wrong, by the priors; what the catalogue lacks is not drawn."""
    held = bank.beliefs
    weight = np.array([bank.weights[key] for key in bank.keys])
    kind = rng.random() * (1.0 - held.unknown)
    if kind < held.nothing:
        return 0, 0
    if kind < held.nothing + held.two:
        while True:
            one, two = (int(each) + 1 for each in rng.choice(len(weight), size=2, p=weight))
            if one != two:
                return min(one, two), max(one, two)
    return int(rng.choice(len(weight), p=weight)) + 1, 0


def _numbers(
    bank: Bank, rng: np.random.Generator, seen: Prediction, at: int, keys: list[str], scale: float
) -> dict[str, float]:
    numeric, shown = compared(seen.numeric)[at], {}
    for column, (key, quantity) in enumerate(QUANTITIES.items()):
        if key in keys:
            noise = bank.beliefs.doubt * quantity.slack * np.sqrt(scale) * rng.normal()
            shown[key] = float(uncompared(np.asarray(numeric[column] + noise), column))
    return shown


def _state(
    bank: Bank,
    rng: np.random.Generator,
    seen: Prediction,
    at: int,
    key: str,
    parts: np.ndarray,
    severities: np.ndarray,
) -> str:
    if key in bank.physical:
        chances = seen.chances[key][at]
    elif key == LAST_WORK:
        chances = bank.last_work(parts[at : at + 1])[0]
    else:
        chances = bank.looks(key, parts[at : at + 1], severities[at : at + 1])[0]
    states = bank.catalogue.entries[key].states
    return states[int(rng.choice(len(states), p=chances / chances.sum()))]

"""Chances that no physics predicts: what each fault of the catalogue shows, and what was touched last."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from lightoff.physics.uncertain import Array
from lightoff.terms.shelf import Fault

UNTOUCHED = 0.5
"""Chance that nobody had touched it of late. Judgement, no source."""
LAST_WORK = "last_work"


def looks(
    shows: Mapping[int, tuple[Fault, Mapping[str, float]]],
    *,
    states: Sequence[str],
    leak: float,
    parts: NDArray[np.intp],
    severities: Array,
) -> Array:
    """Chances of a look, a noisy "or" of the faults that show it, (n, states).

    `shows` gives each such fault with its chance of each state, by its place; `parts` (n, 2) the places of
    the faults that are there and `severities` (n, 2) where each lies in its own range, 0 to 1; `leak` is the
    chance of any state but the first though none of these faults is there.
    Basis: heckerman_1995 (causal independence).
    """
    others = len(states) - 1
    silent = np.full((len(parts), others), 1.0 - leak / others)
    told = np.zeros(len(parts), dtype=bool)
    for place, (fault, chances) in shows.items():
        low, high = fault.severity
        full = np.array([chances.get(state, 0.0) for state in states[1:]])
        for column in (0, 1):
            rows = np.flatnonzero(parts[:, column] == place)
            if not rows.size:
                continue
            strength = np.minimum(1.0, 0.5 + 0.5 * (low + severities[rows, column] * (high - low)))
            silent[rows] *= 1.0 - np.outer(strength, full)
            told[rows] = True
    out = np.empty((len(parts), others + 1))
    out[:, 0] = np.where(told, np.prod(silent, axis=1), 1.0 - leak)
    shown = 1.0 - silent
    out[:, 1:] = shown * ((1.0 - out[:, 0]) / np.maximum(shown.sum(axis=1), 1e-12))[:, None]
    return out


def touched(fault: Fault, states: Sequence[str]) -> float:
    """Chance that work which brings a fault about was the last on any heater."""
    others = [state.replace(" ", "_") for state in states[1:]]
    return (1.0 - UNTOUCHED) * sum(state in fault.after for state in others) / len(others)


def last_work(faults: Sequence[Fault], states: Sequence[str]) -> Array:
    """Chance of what was touched last given nothing, then times what each fault raises, (faults + 1, states).

    Work brings its own mistakes: a row of the first times those of its faults, normalised.
    """
    usual = np.array([UNTOUCHED, *([(1.0 - UNTOUCHED) / (len(states) - 1)] * (len(states) - 1))])
    raised = [
        np.where([state.replace(" ", "_") in fault.after for state in states], fault.after_factor, 1.0)
        for fault in faults
    ]
    return np.stack([usual, *raised])

"""The judge of fault finding: long importance sampling of the exact, nonlinear model.

Nothing here is linear but the proposal. Severity and parameters are drawn, the model is run on every row,
and each draw is weighed with the very observation model of the engine: all spreads of one heater share one
unknown scale (Student), numbers read with Gaussian noise, states, gates and trials by their chances.
The proposal is the posterior of a straight line through the middle of each set, of a wider one, and of a
line through where the first one leads; each draw is weighed against all three together.
"""

from __future__ import annotations

from collections.abc import Generator, Sequence
from dataclasses import dataclass, fields
from typing import TypeAlias, TypeVar

import numpy as np

from lightoff.faultfinding import observed as engine
from lightoff.faultfinding.bank import LAST_WORK, Bank
from lightoff.faultfinding.evidence import Evidence, Outcome
from lightoff.faultfinding.posterior import UNKNOWN_KEY, Posterior, posterior, unknown_log
from lightoff.physics.normal import log_cumulative
from lightoff.plant.model import Prediction, predict
from lightoff.plant.number import Side
from lightoff.plant.parameters import COLUMN as PARAMETER
from lightoff.plant.quantities import COLUMN, QUANTITIES, compared

Answer = TypeVar("Answer")
Asking: TypeAlias = Generator[np.ndarray, Prediction, Answer]
BINS = 16
LIKELY_PAIRS = 60
STEP = 0.8
UNIFORM, WIDER, SHARES = 0.3, 2.5, (0.35, 0.25, 0.4)
"""Share of flat severity; how much wider the second line's noise is; shares of the lines drawn by."""


@dataclass(frozen=True)
class Judged:
    """Log evidence of each set (prior not in it), and the effective share of its draws."""

    log_evidence: np.ndarray
    effective: np.ndarray


def judged(bank: Bank, evidence: Evidence, sets: Sequence[tuple[str, ...]], count: int, seed: int) -> Judged:
    """Log evidence of `sets` by `count` draws each; what each asks of the model is asked for all at once."""
    asked = [
        _one(bank, evidence, each, count, np.random.default_rng([seed, 7, at]))
        for at, each in enumerate(sets)
    ]
    found: list[tuple[float, float]] = [(0.0, 0.0)] * len(sets)
    rows = {at: next(each) for at, each in enumerate(asked)}
    while rows:
        seen = predict(bank.sheet, bank.conditions, np.concatenate(list(rows.values())))
        end, going = 0, {}
        for at, each in rows.items():
            end += len(each)
            try:
                going[at] = asked[at].send(_part(seen, slice(end - len(each), end)))
            except StopIteration as stop:
                found[at] = stop.value
        rows = going
    return Judged(np.array([each[0] for each in found]), np.array([each[1] for each in found]))


def _part(seen: Prediction, rows: slice) -> Prediction:
    return Prediction(
        chances={key: each[rows] for key, each in seen.chances.items()},
        **{
            field.name: getattr(seen, field.name)[rows]
            for field in fields(Prediction)
            if field.name != "chances"
        },
    )


def chances(
    bank: Bank, evidence: Evidence, *, count: int, seed: int = 0, first: int = 200, least: float = 0.0
) -> tuple[list[tuple[str, ...]], np.ndarray]:
    """Sets and their chances, what the catalogue lacks last: nothing, singles, likely pairs, unknown.

    All sets by `first` draws each, those above two in a thousand again by `count`. Which pairs are likely is
    taken from the engine's linear model, prior and weight of the unknown from its definitions. With `least`
    the sets that the linear model finds less likely than that are left out, to save time.
    """
    linear = posterior(bank, evidence, sharp=False)
    parts = linear.weighed
    pairs = np.argsort(-parts[1].log_evidence)[:LIKELY_PAIRS]
    sets = [*parts[0].sets, *(parts[1].sets[at] for at in pairs)]
    prior = np.concatenate([parts[0].log_prior, parts[1].log_prior[pairs]])
    linear_chance = dict(zip(linear.sets, linear.chances, strict=True))
    inside = [at for at, each in enumerate(sets) if linear_chance[each] > least]
    sets, prior = [sets[at] for at in inside], prior[inside]
    log = judged(bank, evidence, sets, first, seed).log_evidence + prior
    unknown = unknown_log(bank, evidence)
    rough = _shares(log, unknown)
    again = [at for at in np.argsort(-rough[:-1]) if rough[at] > 2e-3]
    log[again] = (
        judged(bank, evidence, [sets[at] for at in again], count, seed + 1).log_evidence + prior[again]
    )
    return [*sets, (UNKNOWN_KEY,)], _shares(log, unknown)


def apart(found: Posterior, sets: Sequence[tuple[str, ...]], shares: np.ndarray) -> float:
    """Total variation between a posterior and the judge's chances, over the sets that were judged."""
    ours = dict(zip(found.sets, found.chances, strict=True))
    both = np.array([ours[each] for each in sets])
    return float(0.5 * np.sum(np.abs(both / both.sum() - shares)))


def _shares(log: np.ndarray, unknown: float) -> np.ndarray:
    every = np.append(log, unknown)
    weights = np.exp(every - every.max())
    return np.asarray(weights / weights.sum())


def _one(
    bank: Bank, evidence: Evidence, each: tuple[str, ...], count: int, rng: np.random.Generator
) -> Asking[tuple[float, float]]:
    """Yields rows for the model and is sent its predictions."""
    tail = bank.beliefs.tail
    exact = [key for key in QUANTITIES if key in evidence.numbers]
    sure = [key for key in exact if evidence.numbers[key].side is Side.EXACT]
    columns = np.array([COLUMN[key] for key in sure], dtype=int)
    read = np.array([engine.on_scale(key, evidence.numbers[key].value) for key in sure])
    noise = np.array([engine.read_spread(bank, key, evidence) for key in sure])
    root = np.linalg.cholesky(bank.baseline.covariance)
    middle, nought = np.full((1, 2), 0.5), np.zeros(len(root))
    slopes = (yield from _slopes(bank, each, middle, nought))[columns]
    severity, log_prior, best = yield from _severities(
        bank, evidence, each, count, rng, (columns, read, noise, slopes)
    )
    centre = compared((yield _rows(bank, each, severity)).numeric)[:, columns]
    k = len(sure)
    lines = [_Line(slopes, read - centre, noise, tail), _Line(slopes, read - centre, WIDER * noise, tail)]
    if k:
        # A second line through where the first one leads: severity and parameters that fit best.
        there = compared((yield _rows(bank, each, best)).numeric)[0, columns]
        inner = slopes @ slopes.T + np.diag(noise**2)
        leads = slopes.T @ np.linalg.solve(inner, read - there)
        bent = (yield from _slopes(bank, each, best, leads))[columns]
        reached = compared((yield _rows(bank, each, best) + (root @ leads) * bank.spreads).numeric)[
            0, columns
        ]
        lines.append(_Line(bent, read - centre - (reached - there - bent @ leads), noise, tail))
    shares = np.array(SHARES[: len(lines)]) / sum(SHARES[: len(lines)])
    which = rng.choice(len(lines), size=count, p=shares)
    distance = np.choose(which, [line.distance for line in lines])
    scale = (tail + distance) / rng.chisquare(tail + k, size=count) if np.isfinite(tail) else np.ones(count)
    free = rng.normal(size=(count, root.shape[0])) * np.sqrt(scale)[:, None]
    blur = rng.normal(size=(count, k)) * np.sqrt(scale)[:, None]
    drawn = np.empty_like(free)
    for at, line in enumerate(lines):
        use = which == at
        missed = line.off[use] - free[use] @ line.slopes.T - blur[use] * line.noise
        drawn[use] = free[use] + missed @ line.gain.T
    rows = _rows(bank, each, severity) + (drawn @ root.T) * bank.spreads
    seen = yield rows
    # Density of the proposal, less the prior of scale and parameters, which the target shares.
    logs = [np.log(share) + line.log(drawn, scale) for share, line in zip(shares, lines, strict=True)]
    log = log_prior - np.logaddexp.reduce(logs)
    numeric = compared(seen.numeric)
    log = log - 0.5 * np.sum(((read - numeric[:, columns]) / noise) ** 2, axis=1) / scale
    log = log - np.sum(np.log(noise)) - 0.5 * k * np.log(2 * np.pi * scale)
    for key in exact:
        number = evidence.numbers[key]
        if number.side is not Side.EXACT:
            width = engine.read_spread(bank, key, evidence) * np.sqrt(scale)
            beyond = (numeric[:, COLUMN[key]] - engine.on_scale(key, number.value)) / width
            log = log + log_cumulative(beyond if number.side is Side.ABOVE else -beyond)
    log = log + _states(bank, evidence, each, severity, seen) + _gates(evidence, seen)
    log = log + (yield from _tried(bank, evidence, each, rows))
    top = log.max()
    weights = np.exp(log - top)
    return float(top + np.log(weights.mean())), float(weights.sum() ** 2 / np.sum(weights**2) / count)


class _Line:
    """A straight model of what was read: off (n, k) less slopes times parameters, with noise."""

    def __init__(self, slopes: np.ndarray, off: np.ndarray, noise: np.ndarray, tail: float) -> None:
        k = off.shape[1]
        self.slopes, self.off, self.noise, self.k, self.tail = slopes, off, noise, k, tail
        inner = slopes @ slopes.T + np.diag(noise**2)
        lower = np.linalg.cholesky(inner) if k else np.zeros((0, 0))
        white = np.linalg.solve(lower, off.T).T if k else off
        self.gain = np.linalg.solve(inner, slopes).T if k else np.zeros((slopes.shape[1], 0))
        self.distance = np.sum(white**2, axis=1)
        self.log_root = float(np.sum(np.log(np.diag(lower))))

    def log(self, drawn: np.ndarray, scale: np.ndarray) -> np.ndarray:
        """Log density of drawing these, over their prior."""
        left = self.off - drawn @ self.slopes.T
        log = -0.5 * np.sum((left / self.noise) ** 2, axis=1) / scale - np.sum(np.log(self.noise))
        log = log - 0.5 * self.k * np.log(2 * np.pi * scale)
        return np.asarray(log - _student(self.distance, self.k, self.log_root, self.tail))


def _student(far: np.ndarray, k: int, log_root: float, tail: float) -> np.ndarray:
    """Log density of k numbers together under the tail, from their squared distance."""
    from math import lgamma

    if not np.isfinite(tail):
        return np.asarray(-0.5 * far - log_root - 0.5 * k * np.log(2 * np.pi))
    head = lgamma((tail + k) / 2) - lgamma(tail / 2) - 0.5 * k * np.log(tail * np.pi)
    return np.asarray(head - log_root - 0.5 * (tail + k) * np.log1p(far / tail))


def _severities(
    bank: Bank,
    evidence: Evidence,
    each: tuple[str, ...],
    count: int,
    rng: np.random.Generator,
    numbers: tuple[np.ndarray, ...],
) -> Asking[tuple[np.ndarray, np.ndarray, np.ndarray]]:
    """Severities (n, faults) between 0 and 1, log of prior over proposal, and where it fits best."""
    if not each:
        return np.zeros((count, 2)), np.zeros(count), np.zeros((1, 2))
    columns, read, noise, slopes = numbers
    bins = BINS if len(each) == 1 else BINS // 2
    grid = (np.arange(bins) + 0.5) / bins
    cells = np.stack(np.meshgrid(*[grid] * len(each), indexing="ij"), axis=-1).reshape(-1, len(each))
    seen = yield _rows(bank, each, cells)
    inner = slopes @ slopes.T + np.diag(noise**2)
    lower = np.linalg.cholesky(inner) if len(read) else np.zeros((0, 0))
    off = (read - compared(seen.numeric)[:, columns]).T
    far = np.sum(np.linalg.solve(lower, off) ** 2, axis=0) if len(read) else np.zeros(len(cells))
    log = _student(far, len(read), 0.0, bank.beliefs.tail) + 0.7 * _states(bank, evidence, each, cells, seen)
    share = np.exp(log - log.max())
    share = (1.0 - UNIFORM) * share / share.sum() + UNIFORM / len(cells)
    chosen = rng.choice(len(cells), size=count, p=share)
    severity = cells[chosen] + (rng.random((count, len(each))) - 0.5) / bins
    return severity, -np.log(share[chosen] * len(cells)), cells[np.argmax(share)][None]


def _rows(bank: Bank, each: tuple[str, ...], severity: np.ndarray) -> np.ndarray:
    rows = np.repeat((bank.baseline.mean * bank.spreads)[None, :], len(severity), axis=0)
    for at, key in enumerate(each):
        most = 1.0 + bank.beliefs.effect
        low, high = bank.faults[key].severity[0] / most, bank.faults[key].severity[1] * most
        for parameter, shift in bank.faults[key].shifts.items():
            rows[:, PARAMETER[parameter]] += (low + severity[:, at] * (high - low)) * shift
    return rows


def _slopes(bank: Bank, each: tuple[str, ...], severity: np.ndarray, drawn: np.ndarray) -> Asking[np.ndarray]:
    """Central differences at a severity and at parameters drawn, (quantities, parameters), per spread."""
    root = np.linalg.cholesky(bank.baseline.covariance)
    step = STEP * np.eye(len(drawn))
    moved = np.concatenate([drawn + step, drawn - step])
    seen = compared((yield _rows(bank, each, severity) + (moved @ root.T) * bank.spreads).numeric)
    return np.asarray((seen[: len(step)] - seen[len(step) :]).T / (2 * STEP))


def _states(
    bank: Bank, evidence: Evidence, each: tuple[str, ...], severity: np.ndarray, seen: Prediction
) -> np.ndarray:
    log = np.zeros(len(severity))
    for reading, weights in sorted(evidence.states.items()):
        fits = np.asarray(list(weights.values()))
        if reading in seen.chances and reading in bank.catalogue.entries:
            chances = seen.chances[reading]
        elif reading == LAST_WORK:
            chances = bank.last_work(bank.places([each]))
        elif any(reading in fault.shows for fault in bank.faults.values()):
            chances = _looks(bank, reading, each, severity)
        else:
            continue
        log = log + np.log(np.maximum(chances @ fits, 1e-9))
    return log


def _looks(bank: Bank, reading: str, each: tuple[str, ...], severity: np.ndarray) -> np.ndarray:
    """A noisy "or" of the signs that each fault shows, (n, states), severity by severity."""
    states = bank.catalogue.entries[reading].states
    leak = bank.leak(reading) / (len(states) - 1)
    silent = np.full((len(severity), len(states) - 1), 1.0 - leak)
    told = False
    for at, key in enumerate(each):
        shows = bank.faults[key].shows.get(reading)
        if shows is None:
            continue
        told = True
        low, high = bank.faults[key].severity
        strength = np.minimum(1.0, 0.5 + 0.5 * (low + severity[:, at] * (high - low)))
        silent *= 1.0 - np.outer(strength, [shows.get(state, 0.0) for state in states[1:]])
    shown = 1.0 - silent
    if not told:
        return np.column_stack([1.0 - shown.sum(axis=1), shown])
    normal = np.prod(silent, axis=1)
    shown = shown / shown.sum(axis=1, keepdims=True) * (1.0 - normal)[:, None]
    return np.column_stack([normal, shown])


def _gates(evidence: Evidence, seen: Prediction) -> np.ndarray:
    runs = seen.running / np.maximum(seen.lit, 1e-12)
    return np.asarray(engine.gates(evidence, seen.lit, runs, seen.asked))


def _tried(bank: Bank, evidence: Evidence, each: tuple[str, ...], rows: np.ndarray) -> Asking[np.ndarray]:
    log = np.zeros(len(rows))
    for key, outcome in sorted(evidence.trials.items()):
        if outcome is Outcome.NOT_DONE or key not in bank.trials:
            continue
        reset = rows.copy()
        reset[:, [PARAMETER[name] for name in bank.trials[key].resets]] = 0.0
        seen = yield reset
        clean = 1.0 / (1.0 + np.exp(-np.clip((seen.smoke_margin + 0.02) / 0.02, -50, 50)))
        cured = np.clip(seen.running * clean, 0.02, 0.97)
        log = log + np.log(cured if outcome is Outcome.CURED else 1.0 - cured)
    return log + float(engine.repaired_log(bank, evidence, [each])[0])

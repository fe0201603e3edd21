"""The causes worth counting, and the chance of each outcome of a step under each of them.

What is next to impossible changes no step and is left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np

from lightoff.faultfinding.bank import Bank
from lightoff.faultfinding.cost import SOUND
from lightoff.faultfinding.evidence import Evidence, Outcome
from lightoff.faultfinding.observed import Read, read
from lightoff.faultfinding.ordering import places_by_size
from lightoff.faultfinding.planning import Places
from lightoff.faultfinding.posterior import Posterior, Weighed, read_spread
from lightoff.faultfinding.together import by_cause, sampled
from lightoff.physics.normal import cumulative
from lightoff.physics.uncertain import Array
from lightoff.plant.quantities import COLUMN, QUANTITIES

NEGLIGIBLE = 2e-3
"""Causes this far below the likeliest change no step."""
MOST_CAUSES = 48
EDGES = (0.03, 0.12, 0.35, 0.65, 0.88, 0.97)
"""Chances of a number to lie below the edges of the bands that its outcomes are told in: rare causes show in
the tails."""
_POINTS = np.array([-1.8, -1.0, -0.33, 0.33, 1.0, 1.8])
"""What stands for a normal spread, each as likely as another."""
WARMED_UP = frozenset(
    {"coolant_temperature_supply", "coolant_temperature_return", "tap_temperature", "warm_up_rate",
     "stack_gas_temperature", "pipe_surface_temperature"}
)  # fmt: skip
"""Numbers of a heater heated through: one that dies after minutes never comes to show them. Judgement."""


class Likely:
    """The causes worth counting, part by part as they were weighed."""

    def __init__(self, bank: Bank, evidence: Evidence, found: Posterior) -> None:
        self.bank, self.evidence = bank, evidence
        chances = found.chances.copy()
        if evidence.repairs.get(SOUND) is Outcome.NO_CHANGE:
            chances[found.sets.index(())] = 0.0
        # What the catalogue has is laid out even where it explains little: some step must come next.
        order = np.argsort(-chances[:-1], kind="stable")[: MOST_CAUSES - 1]
        kept = np.sort(order[chances[order] > NEGLIGIBLE * chances[:-1].max()])
        if chances[-1] > NEGLIGIBLE * chances.max():
            kept = np.append(kept, len(chances) - 1)
        self.parts: list[Weighed] = []
        used = 0
        for part in found.weighed:
            inside = kept[(kept >= used) & (kept < used + len(part.sets))] - used
            self.parts.append(part.only(inside))
            used += len(part.sets)
        self.with_unknown = used in kept
        self.sets = tuple(found.sets[at] for at in kept)
        self.chances = chances[kept] / chances[kept].sum()
        known = self.chances[: len(self.chances) - self.with_unknown]
        self.known = known / max(float(known.sum()), 1e-300)

    @cached_property
    def members(self) -> tuple[tuple[str, ...], Array]:
        """The faults, then "" for nothing wrong; and 1 where a cause holds them, (causes, faults + 1)."""
        named = (*sorted({key for each in self.sets for key in each}), "")
        return named, np.array([[float(key in (each or ("",))) for key in named] for each in self.sets])

    def rows(self, parts: list[Array]) -> Array:
        """Values of the known causes one below the other, then their mean for the unknown one."""
        known = np.concatenate(parts)
        return np.vstack([known, self.known @ known]) if self.with_unknown else known

    @cached_property
    def numbers(self) -> tuple[Array, Array, Places, Array]:
        """Of all numbers: mean and spread (c, q) by node; cause of the node and its share of it (c,)."""
        means, spreads, causes, shares, at = [], [], [], [], 0
        for part in self.parts:
            count, cells = part.cells.shape
            means.append(part.numbers.reshape(-1, len(QUANTITIES)))
            spreads.append(np.repeat(part.spreads, cells, axis=0))
            causes.append(at + np.repeat(np.arange(count), cells))
            shares.append(part.cells.ravel())
            at += count
        return np.concatenate(means), np.concatenate(spreads), np.concatenate(causes), np.concatenate(shares)

    def bands(self, keys: Sequence[str]) -> dict[str, tuple[Array, tuple[float, ...]]]:
        """Of each number the chance of each band under each cause, with the edges between the bands."""
        columns = [COLUMN[key] for key in keys]
        means, spreads, causes, shares = self.numbers
        noise = np.array([self.noise(key) for key in keys])[:, None]
        mean, spread = means.T[columns], np.hypot(spreads.T[columns], noise)  # (k, m)
        points = (mean[:, :, None] + spread[:, :, None] * _POINTS).reshape(
            len(columns), len(causes) * len(_POINTS)
        )
        order = places_by_size(points)  # which of equal points comes first moves an edge
        run = np.cumsum(np.repeat(shares * self.known[causes], _POINTS.size)[order], axis=1)
        sorted_points = np.take_along_axis(points, order, axis=1)
        edges = np.array(
            [np.interp(EDGES, up / up[-1], row) for up, row in zip(run, sorted_points, strict=True)]
        ).reshape(len(columns), len(EDGES))
        below = np.ones((len(causes), len(columns), len(EDGES) + 1))  # below the last edge, and at all
        below[:, :, :-1] = cumulative((edges - mean.T[:, :, None]) / spread.T[:, :, None])
        inside = np.diff(below, axis=2, prepend=0.0) * shares[:, None, None]
        tables = by_cause(inside.reshape(len(causes), -1), causes)
        tables = self.rows([tables]).reshape(len(self.sets), len(columns), len(EDGES) + 1)
        apart = np.diff(edges, axis=1, prepend=-np.inf) > 0.0  # between equal edges lies nothing
        return {
            key: (tables[:, at, np.append(apart[at], True)], tuple(edges[at, apart[at]].tolist()))
            for at, key in enumerate(keys)
        }

    def there(self, key: str) -> float:
        """Chance that the number can be read at all. That it cannot is no news: what stands against it, as a
        flame that does not burn, is seen before."""
        parts = [np.sum(part.cells * _there(part, key), axis=1) for part in self.parts]
        return min(float(self.known @ np.concatenate(parts)), 1.0)

    def together(self, keys: Sequence[str], unknown: tuple[Array, Array] | None = None) -> Array:
        """Chance of each of some samples of what these would read together, under each cause.

        `unknown`: middles and widths (k,) of the numbers under the cause that nobody wrote down, where it is
        among the causes; without them it reads what the others do on average.
        """
        means, _, causes, shares = self.numbers
        columns = [COLUMN[key] for key in keys]
        means, roots = means[:, columns], self._roots(keys, columns)
        if unknown is None or not self.with_unknown:
            return self.rows([sampled(means, shares, causes, chances=self.known, roots=roots)])
        middles, widths = unknown
        return sampled(
            np.vstack([means, middles]),
            np.append(shares, 1.0),
            np.append(causes, len(roots)),
            chances=self.chances,
            roots=np.concatenate([roots, np.diag(widths)[None]]),
        )

    def _roots(self, keys: Sequence[str], columns: Sequence[int]) -> Array:
        """Lower roots of the covariances of numbers not read yet under each known cause, (c, k, k)."""
        noise, roots = np.diag([self.noise(key) ** 2 for key in keys]), []
        for part in self.parts:
            sets = part.nodes.parts[part.kept]
            asked, seen = (self.bank.slopes_of(sets, each) for each in (columns, self.read.columns))
            tied = asked @ np.swapaxes(seen, 1, 2)
            left = asked @ np.swapaxes(asked, 1, 2) - tied @ part.precision @ np.swapaxes(tied, 1, 2)
            own = np.sqrt(np.maximum(np.diagonal(left, axis1=1, axis2=2), 1e-24))
            # As surely as each is known by itself, tied to each other as by the slopes.
            scale = part.spreads[:, columns] / own
            roots.append(np.linalg.cholesky(left * scale[:, :, None] * scale[:, None, :] + noise))
        return np.concatenate(roots)

    def noise(self, key: str) -> float:
        """Standard deviation of one number as it would be read, on the scale compared."""
        return float(np.hypot(read_spread(self.bank, key, self.evidence), class_spread(self.bank, key)))

    @cached_property
    def read(self) -> Read:
        """The numbers read so far."""
        return read(self.bank, self.evidence)

    @cached_property
    def lit(self) -> float:
        """Chance that there is a flame."""
        parts = [
            np.sum(shares * part.nodes.lit[part.kept], axis=(1, 2))
            for part, shares in zip(self.parts, self._shares, strict=True)
        ]
        return float(self.known @ np.concatenate(parts))

    @cached_property
    def _shares(self) -> tuple[Array, ...]:
        """Of each part the share of each draw at each cell, (h, c, d)."""
        return tuple(part.cells[:, :, None] * part.draws for part in self.parts)

    def states(self, reading: str) -> Array:
        """Chance of each state under each cause."""
        parts = []
        for part, shares in zip(self.parts, self._shares, strict=True):
            chances = part.nodes.chances[reading][part.kept]
            if chances.shape[2] > 1:
                parts.append(np.einsum("hcd,hcds->hs", shares, chances))
            else:
                parts.append(np.einsum("hc,hcs->hs", part.cells, chances[:, :, 0]))
        return self.rows(parts)

    def cured(self, trial: str) -> Array:
        """Chance under each cause that the heater runs well in a trial."""
        parts = [
            np.sum(part.cells * part.nodes.cured[trial][part.kept], axis=1)[:, None] for part in self.parts
        ]
        return self.rows(parts)[:, 0]


def _there(part: Weighed, key: str) -> Array:
    """Chance that the number can be read at all, (h, c)."""
    quantity, nodes, kept = QUANTITIES[key], part.nodes, part.kept
    if key == "run_time_before_stop":
        gate = nodes.lit[kept] * (1.0 - nodes.runs[kept])
    elif key == "time_to_light":
        gate = nodes.lit[kept]
    elif key in WARMED_UP:
        gate = nodes.lit[kept] * nodes.runs[kept]
    elif quantity.needs_flame:
        gate = nodes.lit[kept] * (0.3 + 0.7 * nodes.runs[kept])
    elif quantity.needs_trial:
        gate = nodes.asked[kept]
    else:
        return np.ones(part.cells.shape)
    return np.asarray(np.sum(part.draws * gate, axis=2))


def class_spread(bank: Bank, key: str) -> float:
    """Standard uncertainty of the class that reads it, on the scale compared; a middle reading is assumed."""
    entry = bank.catalogue.entries.get(key)
    for name in entry.classes if entry else ():
        known = bank.catalogue.classes.get(name)
        accuracy = known.accuracies.get(key) if known else None
        if accuracy is not None and QUANTITIES[key].floor > 0.0:
            return 0.5 * float(accuracy.relative)
    return 0.0

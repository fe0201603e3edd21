"""Several numbers that one instrument reads together: what they would read, and what that would tell.

Readings are sampled from the likely causes' own nodes, the rarer causes oftener than they are likely; each
sample is weighed under every cause, and samples that tell much the same are one outcome.
Basis: robert_2004 (importance sampling).
"""

from __future__ import annotations

import numpy as np

from lightoff.faultfinding.planning import Places
from lightoff.physics.uncertain import Array

SAMPLES = 96
MOST_TOGETHER = 8
"""No instrument of the catalogue reads more numbers at once."""
MOST_OUTCOMES, ROUNDS = 10, 3
"""Outcomes of one step that are kept apart, and how often they are gathered anew."""


def sampled(means: Array, shares: Array, causes: Places, *, chances: Array, roots: Array) -> Array:
    """Chance of each of `SAMPLES` readings of d numbers under each cause, (h, samples); rows add up to one.

    `means` (m, d) of the causes' nodes, `shares` (m,) of a node in its cause `causes` (m,), which stand in
    order; `chances` (h,) of the causes and `roots` (h, d, d) the lower roots of their covariances.
    """
    count = means.shape[1]
    drawn = np.sqrt(chances) / np.sqrt(chances).sum()
    running = np.cumsum(drawn[causes] * shares)
    spots = (np.arange(SAMPLES) + 0.5) / SAMPLES * running[-1]
    picked = np.minimum(np.searchsorted(running, spots), len(running) - 1)
    values = means[picked] + np.einsum("nij,nj->ni", roots[causes[picked]], _TABLE[:, :count])
    turned = np.linalg.inv(roots)
    nodes = np.einsum("mij,mj->mi", turned[causes], means)
    seen = np.einsum("hij,nj->hni", turned, values)
    off = sum((seen[causes, :, at] - nodes[:, None, at]) ** 2 for at in range(count))
    log = -0.5 * off - np.sum(np.log(np.diagonal(roots, axis1=1, axis2=2)), axis=1)[causes, None]
    density = by_cause(shares[:, None] * np.exp(log - log.max(axis=0)), causes)
    told = density / np.maximum(drawn @ density, 1e-300)
    return np.asarray(told / np.maximum(told.sum(axis=1, keepdims=True), 1e-300))


def by_cause(nodes: Array, causes: Places) -> Array:
    """Sums over the nodes of each cause, (h, k), which stand in order."""
    return np.asarray(np.add.reduceat(nodes, np.flatnonzero(np.diff(causes, prepend=-1)), axis=0))


def gathered(chances: Array, likelihood: Array) -> Array:
    """Few outcomes that tell the causes apart nearly as well, (h, outcomes); rows add up to what they did.

    `likelihood` (h, n) of fine outcomes, `chances` (h,) of the causes. Each fine one goes to the middle that
    its causes are least unlike; the first middles lie far from each other.
    Basis: banerjee_2005 (clustering with the Kullback-Leibler divergence).
    """
    mass, shares = after(chances, likelihood)
    told = -entropies(shares)
    middles = chances[None, :]
    near = told - shares @ np.log(np.maximum(chances, _LEAST))
    for _ in range(MOST_OUTCOMES - 1):
        furthest = int(np.argmax(mass * near))
        middles = np.vstack([middles, 0.9 * shares[furthest] + 0.1 * chances])
        near = np.minimum(near, told - shares @ np.log(np.maximum(middles[-1], _LEAST)))
    for _ in range(ROUNDS):
        place = np.argmax(shares @ np.log(np.maximum(middles, _LEAST)).T, axis=1)
        into = (place[:, None] == np.arange(MOST_OUTCOMES)) * mass[:, None]
        held = into.sum(axis=0)[:, None]
        middles = np.where(held > 0.0, into.T @ shares / np.maximum(held, _LEAST), middles)
    kept = np.unique(place)
    return np.asarray(likelihood @ (place[:, None] == kept))


def after(chances: Array, likelihood: Array) -> tuple[Array, Array]:
    """Of each outcome of a step its chance, (o,), and the chances of the causes after it, (o, h)."""
    joint = chances[:, None] * likelihood
    mass = joint.sum(axis=0)
    return mass, (joint / np.maximum(mass, _LEAST)).T


def entropy_left(chances: Array, likelihood: Array) -> float:
    """Expected entropy, nats, of the causes' `chances` (h,) after a step with this `likelihood` (h, o).

    Basis: dekleer_1987.
    """
    mass, shares = after(chances, likelihood)
    return float(mass @ entropies(shares))


def entropies(shares: Array) -> Array:
    """Entropy, nats, of each row of chances."""
    return np.asarray(-np.sum(shares * np.log(np.maximum(shares, _LEAST)), axis=1))


_LEAST = 1e-12
_TABLE = np.random.default_rng(20_261_126).normal(size=(SAMPLES, MOST_TOGETHER))

"""What a unit's own good visits have taught about it: a Gaussian over its persistent parameters.

Constants of the laws are among them: how far a law is off for this unit is the same on every visit, and
forgetting it would forget with it what a fan and a law of fans make together.
In units of the priors' spreads. Learned only from visits that ended fit as tested, reset where a part was
renewed, and held by the priors: no mean may lie further than `MOST` spreads from the sheet's and no spread
may shrink below `LEAST`, so that a unit that drifts cannot teach that its drift is normal.
"""

from __future__ import annotations

from dataclasses import field, replace

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array
from lightoff.plant.parameters import PARAMETERS
from lightoff.plant.quantities import QUANTITIES

MOST, LEAST = 2.0, 0.30
"""Nineteen in twenty sound heaters lie within the one; the other is judgement, no source."""
MOST_OF_LAW = 3.0
"""A law does not drift: how far off it may be learned to be is bounded more widely. Judgement, no source."""
_PERSISTENT = np.array([each.persistent for each in PARAMETERS.values()])
_CLOSURE = np.array([each.closure for each in PARAMETERS.values()])
_FIXED = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Baseline:
    """`mean` (parameters,) and `covariance` (parameters, parameters), in spreads; `visits` taught it, and
    `times` (quantities,) says how often each reading did."""

    mean: Array
    covariance: Array
    visits: int = 0
    times: Array = field(default_factory=lambda: np.zeros(len(QUANTITIES)))


def unknown_unit() -> Baseline:
    """A unit nobody has read yet: the priors."""
    count = len(PARAMETERS)
    return Baseline(mean=np.zeros(count), covariance=np.eye(count))


def taught(baseline: Baseline, *, jacobian: Array, residual: Array, noise: Array) -> Baseline:
    """The baseline after one more good visit.

    `jacobian` (k, parameters) of the readings per spread, at the sheet's values; `residual` (k,) of what was
    read less what a healthy heater would show there; `noise` (k,) standard deviations. Parameters of the day
    are known afresh on each visit.
    """
    return _held(*on_that_day(baseline, jacobian=jacobian, residual=residual, noise=noise), baseline)


def on_that_day(baseline: Baseline, *, jacobian: Array, residual: Array, noise: Array) -> tuple[Array, Array]:
    """Mean and covariance of the unit on the day of that visit, what is of the day included and nothing held.

    Basis: common practice (Bayes' rule, linear model, Gaussian errors).
    """
    prior, mean = baseline.covariance, baseline.mean
    innovation = jacobian @ prior @ jacobian.T + np.diag(noise**2)
    gain = np.linalg.solve(innovation, jacobian @ prior).T
    return mean + gain @ (residual - jacobian @ mean), prior - gain @ jacobian @ prior


def renewed(baseline: Baseline, part: str) -> Baseline:
    """The baseline after a part was renewed: its parameters are as unknown as on the first day."""
    gone = np.array([each.part == part for each in PARAMETERS.values()])
    mean, covariance = baseline.mean.copy(), baseline.covariance.copy()
    mean[gone] = 0.0
    covariance[gone, :] = 0.0
    covariance[:, gone] = 0.0
    covariance[gone, gone] = 1.0
    return replace(baseline, mean=mean, covariance=covariance)


def _held(mean: Array, covariance: Array, before: Baseline) -> Baseline:
    kept = np.where(_PERSISTENT, _within(mean, covariance), 0.0)
    covariance = 0.5 * (covariance + covariance.T)
    # What is of the day is forgotten, with all that it was tied to.
    covariance = np.where(np.outer(_PERSISTENT, _PERSISTENT), covariance, 0.0)
    covariance[np.diag_indices_from(covariance)] += np.where(_PERSISTENT, 0.0, 1.0)
    short = np.maximum(LEAST**2 - np.diag(covariance), 0.0)
    return replace(before, mean=kept, covariance=covariance + np.diag(short), visits=before.visits + 1)


def _within(mean: Array, covariance: Array) -> Array:
    """The mean with nothing beyond its bound: what lies furthest out is held there, and what is tied to it
    follows, so that together they still say what was read."""
    most = np.where(_CLOSURE, MOST_OF_LAW, MOST)
    moved, tied = mean.copy(), covariance.copy()
    for _ in range(mean.size):
        beyond = np.where(_PERSISTENT, np.abs(moved) - most, 0.0)
        at = int(np.argmax(beyond))
        if beyond[at] <= 0.0 or tied[at, at] <= _FIXED:
            break
        column = tied[:, at] / tied[at, at]
        moved = moved + column * (np.sign(moved[at]) * most[at] - moved[at])
        tied = tied - np.outer(column, tied[at])
    return np.asarray(np.clip(moved, -most, most))

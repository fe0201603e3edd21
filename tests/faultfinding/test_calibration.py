"""Calibration by simulation: of cases drawn from the judging model, the truth lies anywhere in the posterior.

With the suspicions in a fixed order, the posterior's sum up to the truth (and a random share of the truth's
own) is uniform from nought to one if the posterior is right; Talts and others 2018, from memory.
"""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from drawn import Drawn, drawn
from making import bank_of, conditions

from lightoff.faultfinding import Posterior, posterior
from lightoff.faultfinding.bank import Beliefs

CASES = 300


@pytest.fixture(scope="module")
def judged() -> list[tuple[Drawn, Posterior]]:
    bank = replace(bank_of("generic_9_kw", conditions()), beliefs=Beliefs(unknown=1e-12))
    return [(case, posterior(bank, case.told)) for case in drawn(bank, CASES, seed=3)]


def ranks(
    judged: list[tuple[Drawn, Posterior]], order: np.ndarray, bent: Callable[[np.ndarray], np.ndarray]
) -> np.ndarray:
    """Where the truth lies in each posterior, 0 to 1."""
    rng, found = np.random.default_rng(5), []
    for case, post in judged:
        # Nothing, each single fault, and last of all two faults together, whichever they are.
        alone = post.chances[: len(order) - 1]
        chances = bent(np.append(alone, 1.0 - alone.sum()))
        truth = len(order) - 1 if case.parts[1] else case.parts[0]
        place = int(np.flatnonzero(order == truth)[0])
        found.append(chances[order[:place]].sum() + rng.random() * chances[truth])
    return np.array(found)


def unlike_uniform(values: np.ndarray) -> float:
    """Chance of so large a distance from the uniform distribution (Kolmogorov and Smirnov, asymptotic)."""
    ordered, count = np.sort(values), len(values)
    steps = np.arange(count)
    far = max((ordered - steps / count).max(), ((steps + 1) / count - ordered).max())
    root = (np.sqrt(count) + 0.12 + 0.11 / np.sqrt(count)) * far
    terms = np.arange(1, 101)
    return float(np.clip(2.0 * np.sum((-1.0) ** (terms - 1) * np.exp(-2.0 * (terms * root) ** 2)), 0.0, 1.0))


def orders(count: int) -> list[np.ndarray]:
    """A few orders of the suspicions: as they stand, backwards, and shuffled."""
    rng = np.random.default_rng(7)
    return [np.arange(count), np.arange(count)[::-1], rng.permutation(count), rng.permutation(count)]


@pytest.mark.slow
def test_the_truth_lies_anywhere_in_the_posterior(judged: list[tuple[Drawn, Posterior]]) -> None:
    kinds = len(judged[0][1].weighed[0].sets) + 1
    for order in orders(kinds):
        assert unlike_uniform(ranks(judged, order, lambda each: each)) > 0.01


@pytest.mark.slow
def test_a_bold_or_a_timid_posterior_would_be_found_out(judged: list[tuple[Drawn, Posterior]]) -> None:
    kinds = len(judged[0][1].weighed[0].sets) + 1

    def bent(power: float) -> Callable[[np.ndarray], np.ndarray]:
        return lambda each: each**power / np.sum(each**power)

    for power in (0.4, 2.5):
        found = [unlike_uniform(ranks(judged, order, bent(power))) for order in orders(kinds)]
        assert min(found) < 0.01, (power, found)

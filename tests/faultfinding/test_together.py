"""Numbers read together: what they tell against exact integrals, and that a step's worth counts them all."""

from dataclasses import replace

import numpy as np
import pytest
from making import SHELF, bank_of, conditions, evidence

from lightoff.faultfinding import Bank, Kind, Step, posterior
from lightoff.faultfinding.ranking import ranked
from lightoff.faultfinding.together import MOST_OUTCOMES, after, entropy_left, gathered, sampled

EVERY = frozenset(SHELF.catalogue.classes)
GAS = {"flue_o2", "flue_co2", "flue_co", "stack_gas_temperature"}
SMOKES = evidence(states={"owner_says": "smokes or smells", "light_off": "first try"})


def exact_entropy_left(chances: np.ndarray, means: np.ndarray, roots: np.ndarray) -> float:
    """By the trapezoidal rule on a fine grid of two numbers; the causes have one node each."""
    side = np.linspace(-14.0, 14.0, 401)
    grid = np.stack(np.meshgrid(side, side), axis=-1).reshape(-1, 2)
    density = []
    for mean, root in zip(means, roots, strict=True):
        white = (grid - mean) @ np.linalg.inv(root).T
        density.append(np.exp(-0.5 * np.sum(white**2, axis=1)) / (2.0 * np.pi * np.linalg.det(root)))
    joint = chances[:, None] * np.array(density)
    shares = joint / np.maximum(joint.sum(axis=0), 1e-300)
    return float(-np.sum(joint * np.log(np.maximum(shares, 1e-300))) * (side[1] - side[0]) ** 2)


def made(seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Chances, means and roots of five causes of two numbers."""
    dice = np.random.default_rng(seed)
    roots = np.tril(dice.normal(size=(5, 2, 2)))
    roots[:, [0, 1], [0, 1]] = dice.uniform(0.5, 1.5, (5, 2))
    return dice.dirichlet(np.ones(5)), dice.normal(size=(5, 2)) * 2.0, roots


def told(chances: np.ndarray, means: np.ndarray, roots: np.ndarray) -> np.ndarray:
    every = np.arange(len(chances))
    return sampled(means, np.ones(len(chances)), every, chances=chances, roots=roots)


def test_what_two_numbers_tell_is_near_the_exact_integral() -> None:
    off = []
    for seed in range(20):
        chances, means, roots = made(seed)
        before = -float(chances @ np.log(chances))
        gain = before - entropy_left(chances, told(chances, means, roots))
        off.append(gain / (before - exact_entropy_left(chances, means, roots)) - 1.0)
    assert abs(np.mean(off)) < 0.05
    assert np.std(off) < 0.15


def test_two_numbers_that_tell_only_together_tell() -> None:
    chances, means = np.array([0.5, 0.5]), np.zeros((2, 2))
    tied = np.linalg.cholesky(np.array([[[1.0, 0.95], [0.95, 1.0]], [[1.0, -0.95], [-0.95, 1.0]]]))
    together = entropy_left(chances, told(chances, means, tied))
    alone = entropy_left(
        chances, sampled(means[:, :1], np.ones(2), np.arange(2), chances=chances, roots=tied[:, :1, :1])
    )
    assert alone == pytest.approx(np.log(2.0))  # each by itself reads the same under both
    assert together < 0.5 * alone


def test_outcomes_gathered_are_few_add_up_and_tell_nearly_as_much() -> None:
    for seed in range(10):
        chances, means, roots = made(seed)
        fine = told(chances, means, roots)
        few = gathered(chances, fine)
        assert few.shape[1] <= MOST_OUTCOMES < fine.shape[1]
        assert few.sum(axis=1) == pytest.approx(np.ones(5))
        before = -float(chances @ np.log(chances))
        gain = before - entropy_left(chances, fine)
        assert 0.85 * gain <= before - entropy_left(chances, few) <= gain + 1e-9
        mass, shares = after(chances, few)
        assert mass @ shares == pytest.approx(chances)


# In the ranking


@pytest.fixture(scope="module")
def nine_kw() -> Bank:
    return bank_of("generic_9_kw", conditions())


def probe(bank: Bank, not_possible: frozenset[str] = frozenset()) -> Step:
    known = replace(SMOKES, not_possible=not_possible)
    found = ranked(bank, known, posterior(bank, known), classes=EVERY)
    (step,) = (each for each in found if each.kind is Kind.READING and GAS & {each.key, *each.along})
    return step


def test_a_probe_in_the_pipe_is_one_step_that_is_worth_all_that_it_reads(nine_kw: Bank) -> None:
    whole = probe(nine_kw)
    assert {whole.key, *whole.along} == GAS
    by_itself = probe(nine_kw, frozenset(GAS - {whole.key}))
    assert (by_itself.key, by_itself.along) == (whole.key, ())
    assert whole.expected_minutes < by_itself.expected_minutes - 1.0
    entries = SHELF.catalogue.entries
    longest = max(entries[key].minutes for key in GAS)
    assert whole.minutes - by_itself.minutes == longest - entries[whole.key].minutes
    assert whole.apart

"""Yes/no findings by a noisy "or": exact chances of all faults here and by pyagrum's engines, side by side.

    python benchmarks/noisy_or.py

40 faults, 60 findings, five parents drawn at random for each, eight findings there and twenty absent. What
is timed is the answer to one set of findings, the network being there; the library's engine is made anew for
each, as new evidence in one costs it the same. Our side is Quickscore (Heckerman 1989, from memory) and
stands only here: fault finding looks at no more than two faults at once and adds those up one by one. The sum
takes signs in turn, so that rare findings cancel digits: in double precision some 1e-5 are lost, hence the
long one.
"""

from __future__ import annotations

import statistics
import time
import warnings
from collections.abc import Callable
from functools import partial

import numpy as np

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import pyagrum

FAULTS, FINDINGS, PARENTS, THERE, ABSENT = 40, 60, 5, 8, 20
ROUNDS, OUR_ROUNDS, SEEDS = 5, 200, (1, 2, 3)


def made(seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, list[int], list[int]]:
    """Chances of the faults (f,), chance that a fault shows a finding (f, g), leaks (g,), there, absent."""
    rng = np.random.default_rng(seed)
    prior = rng.uniform(0.005, 0.05, FAULTS)
    link = np.zeros((FAULTS, FINDINGS))
    for finding in range(FINDINGS):
        link[rng.choice(FAULTS, PARENTS, replace=False), finding] = rng.uniform(0.2, 0.95, PARENTS)
    order = [int(at) for at in rng.permutation(FINDINGS)]
    return prior, link, rng.uniform(0.005, 0.02, FINDINGS), order[:THERE], order[THERE : THERE + ABSENT]


def quickscore(
    prior: np.ndarray, link: np.ndarray, leak: np.ndarray, there: list[int], absent: list[int]
) -> np.ndarray:
    """Chance of each fault given the findings, (f,)."""
    prior, link, leak = (each.astype(np.longdouble) for each in (prior, link, leak))
    log_silent = np.log1p(-link)
    subsets = (np.arange(2 ** len(there))[:, None] >> np.arange(len(there))) & 1
    silent = np.exp(log_silent[:, absent].sum(axis=1) + subsets @ log_silent[:, there].T)
    quiet = subsets @ np.log1p(-leak[there]) + np.log1p(-leak[absent]).sum()
    sign = (1.0 - 2.0 * (subsets.sum(axis=1) & 1)) * np.exp(quiet)
    factor = (1.0 - prior) + prior * silent
    whole = sign * np.exp(np.log(factor).sum(axis=1))
    return np.asarray(whole @ (prior * silent / factor) / whole.sum(), dtype=float)


def network(prior: np.ndarray, link: np.ndarray, leak: np.ndarray) -> pyagrum.BayesNet:
    """The same as a network, its tables filled."""
    net = pyagrum.BayesNet()
    for at, chance in enumerate(prior):
        net.add(pyagrum.LabelizedVariable(f"fault{at}", "", 2))
        net.cpt(f"fault{at}").fillWith([1.0 - chance, chance])
    for finding in range(link.shape[1]):
        # The plain leaky noisy "or", as against the compound one, whose weights hold the leak already.
        net.addNoisyORNet(pyagrum.LabelizedVariable(f"finding{finding}", "", 2), float(leak[finding]))
        for fault in np.flatnonzero(link[:, finding]):
            net.addWeightedArc(f"fault{fault}", f"finding{finding}", float(link[fault, finding]))
    return net


def by_library(
    engine: Callable[[pyagrum.BayesNet], object], net: pyagrum.BayesNet, there: list[int], absent: list[int]
) -> np.ndarray:
    """The chances by one of pyagrum's engines."""
    asked = engine(net)
    asked.setEvidence({f"finding{at}": 1 for at in there} | {f"finding{at}": 0 for at in absent})
    asked.setTargets({f"fault{at}" for at in range(FAULTS)})
    asked.makeInference()
    return np.array([asked.posterior(f"fault{at}")[1] for at in range(FAULTS)])


def took(call: Callable[[], object], rounds: int) -> float:
    """Median seconds."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def main() -> None:
    """Print milliseconds and ratios."""
    engines = (pyagrum.LazyPropagation, pyagrum.ShaferShenoyInference, pyagrum.VariableElimination)
    for seed in SEEDS:
        prior, link, leak, there, absent = made(seed)
        net = network(prior, link, leak)
        ours = quickscore(prior, link, leak, there, absent)
        mine = took(partial(quickscore, prior, link, leak, there, absent), OUR_ROUNDS)
        times = {}
        for engine in engines:
            theirs = by_library(engine, net, there, absent)
            assert np.abs(ours - theirs).max() < 1e-6, "they do not agree"
            times[engine.__name__] = took(partial(by_library, engine, net, there, absent), ROUNDS)
        best = min(times.values())
        told = ", ".join(f"{name} {1e3 * each:.0f} ms" for name, each in times.items())
        print(f"network {seed}: here {1e3 * mine:.3f} ms; {told}; {best / mine:.0f} times the best of these")


if __name__ == "__main__":
    main()

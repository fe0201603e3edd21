"""How well fault finding judges made-up heaters whose trouble is known, beside an oracle that knows the laws.

    python benchmarks/fault_finding.py [--worlds 16] [--cases 200] [--seed 1]

The oracle is the same inference, told the very laws, faults, spreads, noise and shares that made the cases.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from fault_cases import Street, streets
from making import known_of

from lightoff.faultfinding import Posterior, posterior
from lightoff.faultfinding.posterior import UNKNOWN_KEY

LEAST = 1e-5
"""What a set that was left out of a posterior counts in the log score."""
BINS, PERFECT_ROUNDS = 10, 400


@dataclass
class Tally:
    """Outcomes of one judge, case by case; each list of its own kind of case."""

    top_1: list[bool] = field(default_factory=list)
    top_3: list[bool] = field(default_factory=list)
    both: list[bool] = field(default_factory=list)
    false_fault: list[bool] = field(default_factory=list)
    brier: list[float] = field(default_factory=list)
    log_score: list[float] = field(default_factory=list)
    leading: list[tuple[float, bool]] = field(default_factory=list)
    faults: list[tuple[float, bool]] = field(default_factory=list)

    def add(self, found: Posterior, truth: frozenset[str]) -> None:
        """Count one case."""
        causes = {**found.faults(), "": found.sound}
        order = sorted(causes, key=lambda key: (-causes[key], key))
        suspects = [key for key in order if key not in ("", UNKNOWN_KEY)][:3]
        if not truth:
            self.false_fault.append(order[0] != "")
        elif len(truth) == 1:
            (fault,) = truth
            self.top_1.append(order[0] == fault)
            self.top_3.append(fault in suspects)
        else:
            self.both.append(truth <= set(suspects))
        sets = {
            frozenset(each): float(chance) for each, chance in zip(found.sets, found.chances, strict=True)
        }
        right = sets.get(truth, 0.0)
        self.brier.append(float(np.sum(found.chances**2)) - right**2 + (1.0 - right) ** 2)
        self.log_score.append(float(-np.log(max(right, LEAST))))
        self.leading.append((causes[order[0]], order[0] in truth or (not truth and order[0] == "")))
        self.faults += [
            (chance, key in truth) for key, chance in causes.items() if key not in ("", UNKNOWN_KEY)
        ]


FIGURES: Mapping[str, str] = {
    "top_1": "single faults: the fault leads, before nothing wrong too",
    "top_3": "single faults: it is among the first three suspects",
    "both": "double faults: both among the first three suspects",
    "false_fault": "nothing wrong: a fault leads",
    "brier": "Brier score over sets of faults",
    "log_score": "log score, nats",
}


def judge(street: Street, engine: Tally, oracle: Tally) -> None:
    """Both judges on every case of a street."""
    for case in street.cases:
        engine.add(posterior(street.engine, known_of(case)), case.truth)
    with street.inside():
        for case in street.cases:
            oracle.add(posterior(street.oracle, known_of(case)), case.truth)


def table(engine: Tally, oracle: Tally) -> str:
    """The figures side by side, the difference with its standard error (the cases are the same)."""
    rows = ["| | engine | oracle | difference |", "|---|---|---|---|"]
    for name, told in FIGURES.items():
        one, other = (np.array(getattr(each, name), dtype=float) for each in (engine, oracle))
        apart = one - other
        share = name in ("top_1", "top_3", "both", "false_fault")
        scale, unit = (100.0, " %") if share else (1.0, "")
        digits = 1 if share else 3
        error = scale * apart.std() / np.sqrt(len(apart))
        rows.append(
            f"| {told} ({len(one)} cases) | {scale * one.mean():.{digits}f}{unit} "
            f"| {scale * other.mean():.{digits}f}{unit} "
            f"| {scale * apart.mean():+.{digits}f} ± {error:.{digits}f} |"
        )
    return "\n".join(rows)


def calibration(pairs: Sequence[tuple[float, bool]]) -> str:
    """Ten equal bins: mean forecast and how often it came true; the distance, beside a perfect forecaster."""
    forecast, true = (np.array(each, dtype=float) for each in zip(*pairs, strict=True))
    at = np.minimum((forecast * BINS).astype(int), BINS - 1)
    rows = ["| forecast | cases | mean forecast | came true |", "|---|---|---|---|"]
    for each in range(BINS):
        inside = at == each
        if inside.any():
            rows.append(
                f"| {each / BINS:.1f}-{(each + 1) / BINS:.1f} | {inside.sum()} | "
                f"{forecast[inside].mean():.3f} | {true[inside].mean():.3f} |"
            )
    rng = np.random.default_rng(1)
    perfect = [_apart(forecast, rng.random(len(forecast)) < forecast, at) for _ in range(PERFECT_ROUNDS)]
    rows.append(
        f"\nMean distance {_apart(forecast, true, at):.4f}; a perfect forecaster of these chances would show "
        f"{np.mean(perfect):.4f} (nineteen in twenty below {np.quantile(perfect, 0.95):.4f})."
    )
    return "\n".join(rows)


def _apart(forecast: np.ndarray, true: np.ndarray, at: np.ndarray) -> float:
    gaps = np.bincount(at, forecast - true, minlength=BINS)
    return float(np.abs(gaps).sum() / len(forecast))


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--worlds", type=int, default=16)
    parser.add_argument("--cases", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    engine, oracle, start = Tally(), Tally(), time.perf_counter()
    for street in streets(chosen.worlds, chosen.cases, seed=chosen.seed):
        judge(street, engine, oracle)
        print(f"{street.name}: {time.perf_counter() - start:.0f} s", flush=True)
    print(table(engine, oracle))
    for name, tally in (("engine", engine), ("oracle", oracle)):
        print(f"\nCalibration of the {name}, what leads:\n\n{calibration(tally.leading)}")
    print(f"\nCalibration of the engine, every fault:\n\n{calibration(engine.faults)}")


if __name__ == "__main__":
    main()

"""Smoke spots on drawn photographs with a known number: how far off, and which spoiled ones slip in."""

import argparse
import sys
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from lightoff.spot import read_spot

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "spot"))
from invented_photos import SPOILED, Scene, drawn_scene, photograph, spoiled_scene

HALF = 0.5


def main() -> None:
    """Print the tables."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--sound", type=int, default=700)
    asked.add_argument("--spoiled", type=int, default=50, help="of each kind")
    asked.add_argument("--between", type=int, default=40, help="of each kind")
    asked.add_argument("--seed", type=int, default=20)
    args = asked.parse_args()
    rng = np.random.default_rng(args.seed)
    _sound(rng, args.sound)
    _spoiled(rng, args.spoiled)
    _between(rng, args.between)


def _sound(rng: np.random.Generator, count: int) -> None:
    off: list[float] = []
    refused: Counter[str] = Counter()
    seconds = 0.0
    for _ in range(count):
        scene = drawn_scene(rng)
        picture = photograph(scene, rng)
        begun = time.process_time()
        found = read_spot(picture)
        seconds += time.process_time() - begun
        if found.number is None:
            refused.update(each.key for each in found.refusals)
        else:
            off.append(found.number - scene.number)
    away = np.abs(off)
    print(f"{count} sound photographs: {len(off)} read, {np.mean(off):+.3f} on average")
    print(
        f"within half a number: {(away <= HALF).sum()} of {count}; 95 % within {np.percentile(away, 95):.2f}"
    )
    print(f"the worst {away.max():.2f}; refused: {dict(refused)}; {seconds / count:.2f} s of processor each")


def _spoiled(rng: np.random.Generator, count: int) -> None:
    slipped = 0
    print("| spoiled by | accepted | reasons |")
    print("|---|---|---|")
    for how in SPOILED:
        told: Counter[str] = Counter()
        accepted = 0
        for _ in range(count):
            found = read_spot(photograph(spoiled_scene(rng, how), rng))
            accepted += found.number is not None
            told.update(each.key.removeprefix("spot.") for each in found.refusals)
        slipped += accepted
        print(
            f"| {how} | {accepted} of {count} | {', '.join(f'{key} {n}' for key, n in told.most_common())} |"
        )
    print(f"accepted in all: {slipped} of {count * len(SPOILED)}")


# Neither sound nor plainly spoiled: read or refused, but never far off.
BETWEEN: dict[str, Callable[[Scene, np.random.Generator], Scene]] = {
    "weak shadow": lambda scene, _: replace(scene, spoil="weak shadow"),
    "weak glare": lambda scene, _: replace(scene, spoil="weak glare"),
    "number 0.2 to 0.6": lambda scene, rng: replace(scene, number=float(rng.uniform(0.2, 0.6))),
    "tilt of 29 to 52 degrees": lambda scene, rng: replace(scene, tilt=(float(rng.uniform(0.5, 0.9)), 0.0)),
    "white bench": lambda scene, _: replace(scene, bench=(0.75, 0.74, 0.70)),
    "greys deepened, gamma 1.15": lambda scene, _: replace(scene, gamma=1.15),
    "greys lifted, gamma 0.87": lambda scene, _: replace(scene, gamma=0.87),
}


def _between(rng: np.random.Generator, count: int) -> None:
    print("| between | read | off by more than a half | than one | the worst |")
    print("|---|---|---|---|---|")
    for name, made in BETWEEN.items():
        off = []
        for _ in range(count):
            scene = made(drawn_scene(rng), rng)
            found = read_spot(photograph(scene, rng))
            if found.number is not None:
                off.append(abs(found.number - scene.number))
        beyond = [sum(each > most for each in off) for most in (HALF, 1.0)]
        print(f"| {name} | {len(off)} of {count} | {beyond[0]} | {beyond[1]} | {max(off, default=0.0):.2f} |")


if __name__ == "__main__":
    main()

"""Smoke spots on drawn photographs with a known number: how far off, and which spoiled ones slip in."""

import argparse
import sys
import time
from collections import Counter
from pathlib import Path

import numpy as np

from lightoff.spot import read_spot

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "spot"))
from invented_photos import SPOILED, drawn_scene, photograph, spoiled_scene

HALF = 0.5


def main() -> None:
    """Print the tables."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--sound", type=int, default=700)
    asked.add_argument("--spoiled", type=int, default=50, help="of each kind")
    asked.add_argument("--seed", type=int, default=20)
    args = asked.parse_args()
    rng = np.random.default_rng(args.seed)
    _sound(rng, args.sound)
    _spoiled(rng, args.spoiled)


def _sound(rng: np.random.Generator, count: int) -> None:
    off, refused, seconds = [], Counter(), 0.0
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
        told, accepted = Counter(), 0
        for _ in range(count):
            found = read_spot(photograph(spoiled_scene(rng, how), rng))
            accepted += found.number is not None
            told.update(each.key.removeprefix("spot.") for each in found.refusals)
        slipped += accepted
        print(
            f"| {how} | {accepted} of {count} | {', '.join(f'{key} {n}' for key, n in told.most_common())} |"
        )
    print(f"accepted in all: {slipped} of {count * len(SPOILED)}")


if __name__ == "__main__":
    main()

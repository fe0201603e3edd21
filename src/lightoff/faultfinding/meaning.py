"""What each outcome of a step would mean: what then leads, what it speaks for, what it tells apart."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from lightoff.faultfinding.together import after, entropies
from lightoff.faultfinding.unknown import UNKNOWN_KEY
from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array

LEAST_MOVED = 0.4
"""How far, against the first, the second of two causes must be moved to be told apart. Judgement."""


@dataclass(frozen=True, slots=True)
class Meaning:
    """Of each outcome its chance, what would lead after it with its chance, and what it raises most, by how
    much; what leads `first`, before it. Of the whole step the entropy that is left on average, the causes it
    tells apart, the likelier first, or the one that it proves or clears, and how far it moves that.

    "" stands for nothing wrong, "unknown" for what nobody wrote down.
    """

    mass: list[float]
    leads: list[str]
    chance: list[float]
    raises: list[str]
    rise: list[float]
    first: str
    entropy: float
    apart: tuple[str, ...]
    moves: float


def meanings(
    chances: Array, members: tuple[tuple[str, ...], Array], likelihoods: Mapping[str, Array]
) -> dict[str, Meaning]:
    """What the outcomes of all steps mean, by key, worked out side by side.

    `chances` (h,) of the causes; `members` the faults and where each cause holds them, (h, faults); of each
    step the chance of its outcomes under each cause, (h, o).
    """
    named, inside = members
    counts = [each.shape[1] for each in likelihoods.values()]
    ends = np.cumsum(counts)
    starts = np.concatenate([[0], ends[:-1]]).astype(np.intp)
    mass, causes = after(chances, np.concatenate([*likelihoods.values()], axis=1))
    shares, before = causes @ inside, chances @ inside
    moved = shares - before
    far = np.add.reduceat(mass[:, None] * np.abs(moved), starts, axis=0)
    most = np.argmax(far, axis=1)
    with_most = moved[np.arange(len(mass)), np.repeat(most, counts)]
    # What rises where the other falls.
    against = np.add.reduceat((mass * with_most)[:, None] * moved, starts, axis=0)
    other = np.argmin(against, axis=1)
    leads, raises = ([named[at] for at in np.argmax(each, axis=1).tolist()] for each in (shares, moved))
    chance, rise = shares.max(axis=1).tolist(), moved.max(axis=1).tolist()
    weights, left = mass.tolist(), np.add.reduceat(mass * entropies(causes), starts).tolist()
    every = np.arange(len(counts))
    moves = far[every, most]
    two = np.where(far[every, other] >= LEAST_MOVED * moves, other, most)
    first, pairs, moves = (
        named[int(np.argmax(before))],
        zip(most.tolist(), two.tolist(), strict=True),
        moves.tolist(),
    )
    held, found = before.tolist(), {}
    for key, start, end, pair, entropy, move in zip(
        likelihoods, starts.tolist(), ends.tolist(), pairs, left, moves, strict=True
    ):
        found[key] = Meaning(
            mass=weights[start:end],
            leads=leads[start:end],
            chance=chance[start:end],
            raises=raises[start:end],
            rise=rise[start:end],
            first=first,
            entropy=entropy,
            apart=_apart(named, held, *pair),
            moves=move,
        )
    return found


def _apart(named: tuple[str, ...], before: list[float], one: int, two: int) -> tuple[str, ...]:
    """The causes told apart; "" and the unknown only where nothing else is moved."""
    if named[one] == UNKNOWN_KEY and before[one] > 0.5:
        return (UNKNOWN_KEY,)
    if one == two:
        return (named[one],)
    if (before[two], named[one]) > (before[one], named[two]):
        one, two = two, one
    told = (named[one], named[two])
    return tuple(key for key in told if key not in ("", UNKNOWN_KEY)) or told[:1]

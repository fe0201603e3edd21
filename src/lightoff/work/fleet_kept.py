"""What was worked out of all heaters, kept beside the book: the next start reads it and what was said since.

Heaters lie in boxes of some hundred, so that what is newly said of one makes one box anew and no other.
Everything lies under the hash of the program, the shelf and the book, and counts only while the entry at its
mark stands in the book.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence, Set
from dataclasses import replace
from datetime import datetime

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.judging.assessment import Verdict
from lightoff.judging.content import hash_of
from lightoff.records import program_hash
from lightoff.wear.clocks import BestClock
from lightoff.wear.lives import Clock
from lightoff.wear.many import Chances
from lightoff.wear.posterior import LifePosterior
from lightoff.work.units import Unit
from lightoff.work.workshop import Workshop

A_BOX = 100
"""Heaters in one box. A trade between reading all and writing one: judgement, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """Some heaters as of a mark of the book."""

    mark: int
    units: tuple[Unit, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptLives:
    """The possible lives of a part type in one heater type, "" for all of them; arrays as bytes."""

    kind: str
    sheet: str
    clock: Clock
    lives: bytes
    shapes: bytes
    weights: bytes
    failure_count: int
    life_count: int
    other_failure_count: int
    basis: str
    surprise: float
    table: bytes = b""  # of chances by age and use, where many were looked up

    @classmethod
    def of(cls, key: tuple[str, str], found: LifePosterior, chances: Chances | None) -> KeptLives:
        """As it is kept, with the chances that were looked up by it."""
        return cls(
            kind=key[0],
            sheet=key[1],
            clock=found.clock,
            lives=found.lives.tobytes(),
            shapes=found.shapes.tobytes(),
            weights=found.weights.tobytes(),
            failure_count=found.failure_count,
            life_count=found.life_count,
            other_failure_count=found.other_failure_count,
            basis=found.basis,
            surprise=found.surprise,
            table=b"" if chances is None or chances.table is None else chances.table.tobytes(),
        )

    def chances(self, lives: LifePosterior) -> Chances:
        """The chances that were looked up by these lives."""
        if not self.table:
            return Chances(lives)
        numbers = np.frombuffer(self.table)
        return Chances(lives, numbers.reshape(math.isqrt(numbers.size), -1))

    def opened(self) -> LifePosterior:
        """As it was."""
        return LifePosterior(
            clock=self.clock,
            lives=np.frombuffer(self.lives),
            shapes=np.frombuffer(self.shapes),
            weights=np.frombuffer(self.weights),
            failure_count=self.failure_count,
            life_count=self.life_count,
            other_failure_count=self.other_failure_count,
            basis=self.basis,
            surprise=self.surprise,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """Up to which mark it was worked out, the witness of that, the heaters of each box with the box's own
    mark, what last visits ended with, and which clock wears each part type that was asked for."""

    mark: int
    witness: str
    boxes: tuple[tuple[int, tuple[str, ...]], ...]
    verdicts: Mapping[str, Verdict]
    clocks: Mapping[str, BestClock | None]
    possible: tuple[KeptLives, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """What an earlier run of the program kept."""

    head: Head
    units: Mapping[str, Unit]


def find(workshop: Workshop, now: datetime) -> Kept | None:
    """What was kept of this book, with the ages of now; None where nothing was, or it is not of this book."""
    name = _name(workshop)
    head: Head | None = workshop.derived.find([name]).get(name)
    if head is None or not head.witness or workshop.book.witness(head.mark) != head.witness:
        return None
    found: dict[str, Box] = workshop.derived.find([_box(name, at) for at in range(len(head.boxes))])
    units: dict[str, Unit] = {}
    for at, (mark, listed) in enumerate(head.boxes):
        box = found.get(_box(name, at))
        if box is None or box.mark != mark:
            return None  # another program wrote it since
        for heater, unit in zip(listed, box.units, strict=True):
            units[heater] = replace(unit.as_of(now), kinds=workshop.shelf.part_types)
    return Kept(head=head, units=units)


def keep(
    workshop: Workshop,
    kept: Kept,
    *,
    before: Head | None,
    changed: Set[str],
) -> Head:
    """Keep all of it, or of what was kept before those boxes alone in which something has changed."""
    name, mark = _name(workshop), kept.head.mark
    boxes = _boxes(list(kept.units), before)
    answers: dict[str, object] = {}
    told = list[tuple[int, tuple[str, ...]]]()
    for at, listed in enumerate(boxes):
        earlier = before.boxes[at] if before is not None and at < len(before.boxes) else None
        if earlier is not None and earlier[1] == listed and not changed & set(listed):
            told.append(earlier)
            continue
        told.append((mark, listed))
        answers[_box(name, at)] = Box(
            mark=mark,
            units=tuple(replace(kept.units[each], kinds={}) for each in listed),
        )
    head = replace(kept.head, witness=workshop.book.witness(mark), boxes=tuple(told))
    if head.witness:
        workshop.derived.keep({**answers, name: head})
    return head


def _boxes(heaters: Sequence[str], before: Head | None) -> list[tuple[str, ...]]:
    """Which heaters lie in which box: each where it lay, new ones behind."""
    here, found = set(heaters), list[tuple[str, ...]]()
    for _, listed in before.boxes if before is not None else ():
        found.append(tuple(each for each in listed if each in here))
        here -= set(listed)
    new = [each for each in heaters if each in here]
    if found and new and len(found[-1]) < A_BOX:
        room = A_BOX - len(found[-1])
        found[-1], new = (*found[-1], *new[:room]), new[room:]
    return found + [tuple(new[at : at + A_BOX]) for at in range(0, len(new), A_BOX)]


def _name(workshop: Workshop) -> str:
    return f"fleet:{hash_of(program_hash(), workshop.shelf.sha256, workshop.book.name)}"


def _box(name: str, at: int) -> str:
    return f"{name} {at}"

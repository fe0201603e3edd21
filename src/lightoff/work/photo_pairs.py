"""Photographs side by side: what a step or a reading looked like before the work, and after it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import zip_longest

from lightoff.ground.values import dataclass
from lightoff.terms.procedure import Procedure, ProcedureStep
from lightoff.terms.visit import Photo, Stage


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoPair:
    """Two photographs of one thing. `step` and `reading` are keys, "" where it was taken at none."""

    before: Photo
    after: Photo
    step: str = ""
    reading: str = ""


def photo_pairs(
    photos: Iterable[Photo], steps: Mapping[str, ProcedureStep]
) -> tuple[tuple[PhotoPair, ...], tuple[Photo, ...]]:
    """The pairs in the order of their first photograph, and those that stand alone, in their own order.

    What was taken at steps that belong together is one thing, and so is what was taken of one reading.
    """
    ordered = list(photos)
    things: dict[tuple[str, str], list[Photo]] = {}
    for each in ordered:
        thing = _thing(each, steps)
        if any(thing) and each.stage is not None:
            things.setdefault(thing, []).append(each)
    pairs = list[PhotoPair]()
    for (step, reading), taken in things.items():
        before = (each for each in taken if each.stage is Stage.AS_FOUND)
        after = (each for each in taken if each.stage is Stage.AS_LEFT)
        for one, other in zip_longest(before, after):
            if one is not None and other is not None:
                pairs.append(PhotoPair(before=one, after=other, step=step, reading=reading))
    paired = {each.id for pair in pairs for each in (pair.before, pair.after)}
    return tuple(pairs), tuple(each for each in ordered if each.id not in paired)


def steps_by_key(procedures: Iterable[Procedure]) -> dict[str, ProcedureStep]:
    """Every step of these procedures, by its key."""
    return {step.key: step for procedure in procedures for step in procedure.steps}


def belongs_to(step: ProcedureStep) -> str:
    """The step whose thing this one shows as well: its own, where it names no other."""
    return step.photo_of or step.key


def _thing(photo: Photo, steps: Mapping[str, ProcedureStep]) -> tuple[str, str]:
    """What a photograph is of: the step that it belongs to, else the reading."""
    if not photo.step:
        return "", photo.reading_key or ""
    step = steps.get(photo.step)
    return (belongs_to(step) if step else photo.step), ""

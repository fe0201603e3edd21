"""Part types that took the place of others: one line of lives, one stock."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from lightoff.terms.part import Part
from lightoff.terms.shelf import PartType


def newest_of(kind: str, kinds: Mapping[str, PartType]) -> str:
    """The part type that has taken the place of this one, and of what took its place; itself for most.

    Where two name the same one, the later on the shelf.
    """
    heirs = {old: each.key for each in kinds.values() for old in each.supersedes}
    seen = {kind}
    while kind in heirs and heirs[kind] not in seen:
        kind = heirs[kind]
        seen.add(kind)
    return kind


def in_one_line(parts: Iterable[Part], kinds: Mapping[str, PartType]) -> tuple[Part, ...]:
    """The pieces, each named as the newest type of its line: what was of the old type lives on in it."""
    if not any(each.supersedes for each in kinds.values()):
        return tuple(parts)
    newest = {kind: newest_of(kind, kinds) for kind in kinds}
    return tuple(replace(each, kind=newest.get(each.kind, each.kind)) for each in parts)

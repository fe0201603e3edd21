"""Entries that contradict each other: shown side by side until a person chooses."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from datetime import datetime

from lightoff.ground.values import dataclass
from lightoff.terms.entry import Noun
from lightoff.terms.part import StepDone

# Told by the entry or by other entries, never by what the noun itself says.
_TOLD_ELSEWHERE = frozenset(("id", "entered_at", "corrects", "accepted_by"))
# When a step was tapped, and whether with others, is no part of its answer: two that say "done" agree.
_BESIDE_AN_ANSWER = frozenset(("at", "note"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One of the entries: its id, who said it, when, and what; `says` is None where it was withdrawn."""

    entry: str
    author: str
    at: datetime
    says: Noun | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """Entries of one noun that say different things, none of which takes the place of the other.

    `noun` is the entries' field ("heater", "reading", ...); `subject` is the id of the noun, and of its
    visit for a part of one. `candidates` are two or more, oldest first; at most one of them is what the
    book shows meanwhile, and no clock settles which of them is true.
    """

    noun: str
    subject: str
    candidates: tuple[Candidate, ...]

    @property
    def parts(self) -> tuple[str, ...]:
        """What they differ in: names of the noun's fields, "place.altitude_m" for a field within one.

        Where one of them was withdrawn, that is everything that any of them says.
        """
        told = [dict(said_by(each.says)) for each in self.candidates]
        names = dict.fromkeys(name for each in told for name in each)
        if any(each.says is None for each in self.candidates):
            return tuple(names)
        return tuple(name for name in names if len({each.get(name) for each in told}) > 1)


def said_by(noun: object) -> Iterator[tuple[str, object]]:
    """What a noun says, field by field, without what its entry and other entries tell."""
    if noun is None or not is_dataclass(noun):
        return
    hidden = _TOLD_ELSEWHERE | _BESIDE_AN_ANSWER if isinstance(noun, StepDone) else _TOLD_ELSEWHERE
    for field in fields(noun):
        value = getattr(noun, field.name)
        if field.name in hidden:
            continue
        if is_dataclass(value):
            yield from ((f"{field.name}.{name}", inner) for name, inner in said_by(value))
        else:
            yield field.name, value

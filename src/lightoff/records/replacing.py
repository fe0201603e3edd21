"""Putting one entry in the place of all that stand for a noun: a correction, or a person's choice."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from lightoff.terms.entry import Entry


def in_place_of(standing: Sequence[str], said: Entry, *, new_id: Callable[[], str]) -> Iterator[Entry]:
    """The entries that let `said` alone stand: it corrects the first of `standing`, the others are withdrawn.

    `said` is a new entry, and a withdrawal where nothing shall stand. Keep them in one transaction. If two
    people choose differently at once, both choices stand beside each other: again a conflict.
    """
    yield replace(said, corrects=standing[0] if standing else None)
    for each in standing[1:]:
        yield replace(said, id=new_id(), value=None, corrects=each)

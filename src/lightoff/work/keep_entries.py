"""Keep what a phone or a page sends."""

from __future__ import annotations

from collections.abc import Sequence

from lightoff.ground.errors import LightoffError
from lightoff.records import Kept
from lightoff.terms.entry import Entry
from lightoff.work.workshop import Workshop


def keep_entries(workshop: Workshop, entries: Sequence[Entry]) -> tuple[Kept | LightoffError, ...]:
    """Each entry's own answer, in order: kept, already kept, or why not; good ones beside bad ones stay."""
    return workshop.book.keep(entries, each_by_itself=True)

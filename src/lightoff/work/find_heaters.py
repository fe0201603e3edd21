"""The list of heaters, and the search in it."""

from __future__ import annotations

from lightoff.records import HeaterLine
from lightoff.work.workshop import Workshop


def find_heaters(
    workshop: Workshop, text: str = "", *, limit: int = 50, after: str | None = None
) -> tuple[HeaterLine, ...]:
    """Heaters whose line holds every word; the next page follows `after`, the last heater of this one."""
    return workshop.book.search(text, limit=limit, after=after)

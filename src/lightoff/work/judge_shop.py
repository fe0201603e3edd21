"""Judge every visit of a shop, so that who opens a page finds worked out what it shows."""

from __future__ import annotations

from datetime import datetime

from lightoff.work.find_heaters import find_heaters
from lightoff.work.workshop import Workshop

_ALL = 1_000_000


def judge_shop(workshop: Workshop, now: datetime) -> None:
    """Every visit by all that stands now; what was judged before is left as it is."""
    for line in find_heaters(workshop, limit=_ALL):
        cases = workshop.book.cases_of(line.heater.id, latest=line.visit_count)
        workshop.judged.outlines(cases, workshop.shelf, now)

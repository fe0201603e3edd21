"""Which closed visits end worse by the shelf of today than when they were closed: to be looked at again."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from lightoff.ground.errors import NotFound
from lightoff.ground.values import dataclass
from lightoff.judging.assessment import Verdict
from lightoff.judging.content import sealed_content
from lightoff.terms.case import Case
from lightoff.work.workshop import Workshop

_WORST_FIRST = tuple(Verdict)


@dataclass(frozen=True, slots=True, kw_only=True)
class LookAgain:
    """A visit, how it ended when it was closed, and how it ends today."""

    case: Case
    then: Verdict
    today: Verdict


def look_again(workshop: Workshop, now: datetime) -> tuple[LookAgain, ...]:
    """The last visit of each heater, where it was closed and ends worse today by the very same readings.

    A limit, a sheet, a fuel or the program changed. Earlier visits say nothing of how a heater stands.
    """
    return tuple(_worse(workshop, now))


def _worse(workshop: Workshop, now: datetime) -> Iterator[LookAgain]:
    for heater in workshop.book.heaters():
        for case in workshop.book.cases_of(heater.id, latest=1):
            sealed = case.visit.sealed_verdict
            if sealed not in set(Verdict) or case.visit.sealed_content != sealed_content(case):
                continue
            try:
                (found,) = workshop.judged.outlines([case], workshop.shelf, now)
            except NotFound:  # its sheet is gone: nothing can be said today
                continue
            if _WORST_FIRST.index(found.verdict) < _WORST_FIRST.index(Verdict(sealed)):
                yield LookAgain(case=case, then=Verdict(sealed), today=found.verdict)

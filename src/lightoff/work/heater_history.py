"""A heater's past: each visit with its judgement."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from lightoff.judging.assessment import Assessment
from lightoff.records import HeaterLine
from lightoff.terms.case import Case
from lightoff.work.workshop import Workshop


@dataclass(frozen=True, slots=True, kw_only=True)
class HeaterHistory:
    """One heater with its visits and their judgements, oldest first."""

    line: HeaterLine
    cases: tuple[Case, ...]
    assessments: tuple[Assessment, ...]


def heater_history(workshop: Workshop, heater_id: str, now: datetime, *, latest: int = 40) -> HeaterHistory:
    """A heater and its `latest` visits, each judged as the limits stand today. Raises NotFound."""
    line = workshop.book.line(heater_id)
    cases = workshop.book.cases_of(heater_id, latest=latest)
    return HeaterHistory(
        line=line,
        cases=cases,
        assessments=workshop.judged.assessments(cases, workshop.shelf, now),
    )

"""The main job: judge a visit that stands in the book."""

from __future__ import annotations

from datetime import datetime

from lightoff.judging.assessment import Assessment
from lightoff.terms.case import Case
from lightoff.work.workshop import Workshop


def assess_visit(workshop: Workshop, visit_id: str, now: datetime) -> tuple[Case, Assessment]:
    """The case of a visit and its judgement. Raises NotFound."""
    case = workshop.book.case(visit_id)
    return case, workshop.judged.assessments([case], workshop.shelf, now)[0]

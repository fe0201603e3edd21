"""What stays of a judged visit once later ones stand on the line: its verdict, and its figures."""

from __future__ import annotations

from dataclasses import dataclass, replace

from lightoff.judging.assessment import Assessment, Figure, Verdict, figure_of
from lightoff.terms.visit import Stage


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """The verdict of a visit and its figures, without the limits they were held against."""

    verdict: Verdict
    figures: tuple[Figure, ...]

    def figure(self, key: str, stage: Stage) -> Figure | None:
        """The figure with this key of a stage, or None."""
        return figure_of(self.figures, key, stage)


def outline(assessment: Assessment) -> Outline:
    """The outline of a judgement."""
    return Outline(
        verdict=assessment.verdict.verdict,
        figures=tuple(
            replace(figure, limit=None, readings=()) for area in assessment.areas for figure in area.figures
        ),
    )

"""What stays of a judged visit once later ones stand on the line: its verdict, and what is followed."""

from __future__ import annotations

from dataclasses import replace

from lightoff.ground.values import dataclass
from lightoff.judging.assessment import Assessment, Figure, Verdict, figure_of
from lightoff.terms.visit import Stage

FOLLOWED = (
    "stack_gas_temperature",
    "co_air_free",
    "flue_o2",
    "time_to_light",
    "igniter_current",
    "living_space_co_rise",
)
"""The figures that are followed over the visits of a heater, what tells most first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """The verdict of a visit and its figures that are followed, without the limits they were held against."""

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
            replace(figure, limit=None, readings=())
            for area in assessment.areas
            for figure in area.figures
            if figure.key in FOLLOWED
        ),
    )

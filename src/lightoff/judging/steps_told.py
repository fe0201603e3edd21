"""What was done on a visit, step by step: how many, which were not done and why, which parts went where."""

from __future__ import annotations

from collections import Counter

from lightoff.ground.message import Message, message
from lightoff.terms.case import Case
from lightoff.terms.part import MoveKind, Outcome, StepDone
from lightoff.terms.visit import GROUPED, Visit

PROCEDURE = "procedure"
"""The step whose state says which procedure the visit follows: no work."""
MOST_NOT_DONE = 6
_MOVES = (MoveKind.FITTED, MoveKind.KEPT, MoveKind.FAILED, MoveKind.SCRAPPED)


def disputed_steps(case: Case) -> frozenset[str]:
    """The steps of a visit that were answered in more than one way, until somebody chooses."""
    answers = (each.says for one in case.conflicts if one.subject == case.visit.id for each in one.candidates)
    return frozenset(each.step for each in answers if isinstance(each, StepDone))


def steps_told(visit: Visit, *, with_parts: bool = True) -> tuple[Message, ...]:
    """Sentences for report, hand-over and command line; none where no step was answered and no part moved.

    Without `with_parts` where the parts stand by name beside them.
    """
    steps = [each for each in visit.steps if each.step != PROCEDURE]
    told = list[Message]()
    if steps:
        done = sum(each.outcome is Outcome.DONE for each in steps)
        told.append(message("steps_told.done_one" if done == 1 else "steps_told.done", count=done))
        grouped = sum(each.note == GROUPED and each.outcome is Outcome.DONE for each in steps)
        if grouped:
            told.append(message("steps_told.grouped", count=grouped))
    skipped = [each for each in steps if each.outcome is Outcome.NOT_DONE]
    for each in skipped[:MOST_NOT_DONE]:
        told.append(message("steps_told.not_done", step=f"@step.{each.step}.title", reason=each.reason))
    if skipped[MOST_NOT_DONE:]:
        told.append(message("steps_told.not_done_more", count=len(skipped) - MOST_NOT_DONE))
    counts = Counter(each.kind for each in visit.moves)
    for kind in _MOVES if with_parts else ():
        if counts[kind]:
            told.append(message(f"steps_told.{kind.name.lower()}", count=counts[kind]))
    return tuple(told)

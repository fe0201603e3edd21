"""What was done on a visit, step by step: how many, which were not done and why, which parts went where."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from lightoff.ground.message import Message, message
from lightoff.terms.case import Case
from lightoff.terms.part import MoveKind, Outcome, StepDone
from lightoff.terms.visit import GROUPED

PROCEDURE = "procedure"
"""The step whose state says which procedure the visit follows: no work."""
MOST_NOT_DONE, MOST_NOTED, MOST_NAMED = 6, 6, 6
_MOVES = (MoveKind.FITTED, MoveKind.KEPT, MoveKind.FAILED, MoveKind.SCRAPPED)


def disputed_steps(case: Case) -> frozenset[str]:
    """The steps of a visit that were answered in more than one way, until somebody chooses."""
    answers = (each.says for one in case.conflicts if one.subject == case.visit.id for each in one.candidates)
    return frozenset(each.step for each in answers if isinstance(each, StepDone))


def steps_told(
    case: Case, *, unanswered: Sequence[str] = (), with_parts: bool = True, names_behind: bool = False
) -> tuple[Message, ...]:
    """Sentences for report, hand-over and command line; none where no step was answered and no part moved.

    Steps that one tap answered together are named: that tells them from those answered each by itself.
    `unanswered` are keys of steps that nobody may leave out and nobody answered. Without `with_parts` where
    the parts stand by name beside them; with `names_behind` many names are left to `steps_named`.
    """
    visit = case.visit
    disputed = disputed_steps(case) - {PROCEDURE}
    steps = _undisputed(case)
    told = [*_done(steps, names_behind)]
    told += [message("steps_told.disputed", step=_title(each)) for each in sorted(disputed)]
    if unanswered:
        told.append(_listed("unanswered", unanswered, behind=names_behind))
    skipped = [each for each in steps if each.outcome is Outcome.NOT_DONE]
    for each in skipped[:MOST_NOT_DONE]:
        told.append(message("steps_told.not_done", step=_title(each.step), reason=each.reason))
    if skipped[MOST_NOT_DONE:]:
        told.append(message("steps_told.not_done_more", count=len(skipped) - MOST_NOT_DONE))
    noted = [each for each in steps if each.outcome is Outcome.DONE and each.reason]
    for each in noted[:MOST_NOTED]:
        told.append(message("steps_told.noted", step=_title(each.step), reason=each.reason.rstrip(".")))
    if noted[MOST_NOTED:]:
        told.append(message("steps_told.noted_more", count=len(noted) - MOST_NOTED))
    counts = Counter(each.kind for each in visit.moves)
    for kind in _MOVES if with_parts else ():
        if counts[kind]:
            told.append(message(f"steps_told.{kind.name.lower()}", count=counts[kind]))
    return tuple(told)


def steps_named(case: Case, *, unanswered: Sequence[str] = ()) -> tuple[Message, ...]:
    """The sentences in which `steps_told` would name many steps, for a place further back."""
    lists = (("grouped", [each.step for each in _grouped(_undisputed(case))]), ("unanswered", unanswered))
    return tuple(_listed(key, steps, behind=False) for key, steps in lists if len(steps) > MOST_NAMED)


def _undisputed(case: Case) -> list[StepDone]:
    left_out = disputed_steps(case) | {PROCEDURE}
    return [each for each in case.visit.steps if each.step not in left_out]


def _grouped(steps: Sequence[StepDone]) -> list[StepDone]:
    return [each for each in steps if each.outcome is Outcome.DONE and each.note == GROUPED]


def _listed(key: str, steps: Sequence[str], *, behind: bool) -> Message:
    if behind and len(steps) > MOST_NAMED:
        return message(f"steps_told.{key}_behind", count=len(steps))
    return message(f"steps_told.{key}", count=len(steps), steps=_named(steps))


def _done(steps: Sequence[StepDone], names_behind: bool) -> Iterator[Message]:
    """How many were done, and how many of them each by itself; which ones one tap answered together."""
    done = [each for each in steps if each.outcome is Outcome.DONE]
    if steps:
        yield message("steps_told.done_one" if len(done) == 1 else "steps_told.done", count=len(done))
    together = _grouped(steps)
    if not together:
        return
    own = len(done) - len(together)
    yield message("steps_told.by_itself_one" if own == 1 else "steps_told.by_itself", count=own)
    yield _listed("grouped", [each.step for each in together], behind=names_behind)


def _named(steps: Sequence[str]) -> Message:
    named = message("steps_told.step", step=_title(steps[-1]))
    for each in reversed(steps[:-1]):
        named = message("steps_told.and_more", step=_title(each), rest=named)
    return named


def _title(step: str) -> str:
    return f"@step.{step}.title"

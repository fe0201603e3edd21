"""What was done, step by step, in sentences."""

from datetime import UTC, datetime

from lightoff.judging.steps_told import MOST_NOT_DONE, steps_told
from lightoff.terms.part import Move, MoveKind, Outcome, StepDone
from lightoff.terms.visit import Visit
from lightoff.texts import Speaker

AT = datetime(2026, 11, 25, 12, tzinfo=UTC)


def step(key: str, outcome: Outcome, reason: str = "", state: str = "") -> StepDone:
    return StepDone(id=key, heater="h", step=key, outcome=outcome, at=AT, reason=reason, state=state)


def told(*steps: StepDone, moves: tuple[MoveKind, ...] = ()) -> list[str]:
    made = tuple(Move(id=str(at), heater="h", part="p", kind=kind, at=AT) for at, kind in enumerate(moves))
    visit = Visit(id="v", heater="h", started_at=AT, steps=steps, moves=made)
    return [Speaker().say(each) for each in steps_told(visit)]


def test_a_visit_without_steps_says_nothing() -> None:
    assert told() == []
    assert told(step("procedure", Outcome.DONE, state="annual_service")) == []


def test_what_was_not_done_is_named_with_its_reason() -> None:
    said = told(step("isolate", Outcome.DONE), step("clean_tube", Outcome.NOT_DONE, "no brush"))
    assert said[0] == "One step of the order of work was done."
    assert "no brush" in said[1]
    assert "{" not in said[1]
    many = told(*(step(f"s{at}", Outcome.NOT_DONE, "x") for at in range(MOST_NOT_DONE + 2)))
    assert "besides: 2" in many[-1]


def test_parts_are_counted_by_what_became_of_them() -> None:
    said = told(moves=(MoveKind.SCRAPPED, MoveKind.FITTED, MoveKind.FITTED, MoveKind.KEPT))
    assert said == [
        "Parts fitted: 2.",
        "Parts kept as a spare of the vehicle: 1.",
        "Parts renewed by plan: 1.",
    ]

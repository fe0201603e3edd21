"""What was done, step by step, in sentences."""

from dataclasses import replace
from datetime import UTC, datetime

from cases import good

from lightoff.judging.steps_told import MOST_NOT_DONE, MOST_NOTED, steps_named, steps_told
from lightoff.terms.conflict import Candidate, Conflict
from lightoff.terms.part import Move, MoveKind, Outcome, StepDone
from lightoff.terms.visit import GROUPED, Visit
from lightoff.texts import Speaker

AT = datetime(2026, 11, 25, 12, tzinfo=UTC)
CASE = good().case()


def step(key: str, outcome: Outcome, reason: str = "", state: str = "", note: str = "") -> StepDone:
    return StepDone(
        id=key, heater="h", step=key, outcome=outcome, at=AT, reason=reason, state=state, note=note
    )


def told(*steps: StepDone, moves: tuple[MoveKind, ...] = ()) -> list[str]:
    made = tuple(Move(id=str(at), heater="h", part="p", kind=kind, at=AT) for at, kind in enumerate(moves))
    visit = Visit(id="v", heater="h", started_at=AT, steps=steps, moves=made)
    return [Speaker().say(each) for each in steps_told(replace(CASE, visit=visit))]


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


def test_a_note_to_a_step_is_told_with_it() -> None:
    said = told(step("waste_away", Outcome.DONE, "2 L of fuel, to the yard's tank."))
    assert said[1] == f"{Speaker().text('step.waste_away.title')}: 2 L of fuel, to the yard's tank."
    many = told(*(step("isolate", Outcome.DONE, "x") for _ in range(MOST_NOTED + 2)))
    assert "besides: 2" in many[-1]


def test_steps_answered_in_one_tap_are_named_and_told_from_those_answered_by_themselves() -> None:
    own = [step(key, Outcome.DONE) for key in ("isolate", "let_cool")]
    together = [step(key, Outcome.DONE, note=GROUPED) for key in ("open_cover", "nozzle_out")]
    titles = [Speaker().text(f"step.{key}.title") for key in ("open_cover", "nozzle_out")]
    assert told(*own, *together) == [
        "4 steps of the order of work were done.",
        "2 of them were answered each by itself.",
        (
            "2 were answered together in one tap, which does not say that each was looked at by itself: "
            f"{titles[0]}; {titles[1]}."
        ),
    ]
    assert told(*own) == ["2 steps of the order of work were done."]


def test_many_names_stand_further_back_and_none_is_lost() -> None:
    keys = ["open_cover", "nozzle_out", "isolate", "let_cool", "fuel_shut", "waste_away", "clean_nozzle"]
    visit = Visit(
        id="v",
        heater="h",
        started_at=AT,
        steps=tuple(step(key, Outcome.DONE, note=GROUPED) for key in keys),
    )
    case, titles = replace(CASE, visit=visit), [Speaker().text(f"step.{key}.title") for key in keys]
    front = [Speaker().say(each) for each in steps_told(case, unanswered=keys, names_behind=True)]
    behind = " ".join(Speaker().say(each) for each in steps_named(case, unanswered=keys))
    assert "7 were answered together in one tap" in front[2]
    assert front[3].startswith("7 that nobody may leave out were not answered; they are named further back")
    assert not any(title in said for title in titles for said in front)
    assert all(behind.count(title) == 2 for title in titles)
    few = steps_told(case, unanswered=keys[:2], names_behind=True)
    assert titles[1] in Speaker().say(few[3]), "a few stand in front"
    assert len(steps_named(case, unanswered=keys[:2])) == 1


def test_a_step_answered_in_two_ways_is_not_counted() -> None:
    answer = step("isolate", Outcome.DONE, state="dead")
    candidates = tuple(
        Candidate(entry=state, author="", at=AT, says=replace(answer, state=state))
        for state in ("dead", "still live")
    )
    conflict = Conflict(noun="step", subject="v", candidates=candidates)
    visit = Visit(id="v", heater="h", started_at=AT, steps=(answer, step("let_cool", Outcome.DONE)))
    said = steps_told(replace(CASE, visit=visit, conflicts=(conflict,)))
    assert [Speaker().say(each) for each in said] == [
        "One step of the order of work was done.",
        (
            "Answered in two ways, and not counted until somebody chooses: "
            f"{Speaker().text('step.isolate.title')}."
        ),
    ]


def test_parts_are_counted_by_what_became_of_them() -> None:
    said = told(moves=(MoveKind.SCRAPPED, MoveKind.FITTED, MoveKind.FITTED, MoveKind.KEPT))
    assert said == [
        "Parts fitted: 2.",
        "Parts kept as a spare of the vehicle: 1.",
        "Parts renewed by plan: 1.",
    ]

"""An owner on the telephone: what he knows, and the call that follows from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

from lightoff.faultfinding.telephone import Call, call
from lightoff.shelf import REPAIR, Shelf
from lightoff.terms.case import Case
from lightoff.terms.visit import NOT_HAD, Reading, Stage
from lightoff.work.find_fault import FaultCase, find_in_case
from lightoff.work.visit_file import read_good_rows

EXAMPLE = Path(__file__).parents[2] / "examples" / "no-heat-call.toml"
DANGERLESS = {"fumes_inside": "none", "last_work": "nothing"}


def example(shelf: Shelf) -> Case:
    """The no-heat call of the examples."""
    found = read_good_rows(EXAMPLE.read_bytes(), EXAMPLE.name, shelf).case
    assert found is not None
    return found


def with_answers(case: Case, answers: Mapping[str, str | int | None]) -> Case:
    """The case with these answers alone: a state, a number, or None for what nobody knows."""
    readings = []
    for at, (key, answer) in enumerate(answers.items()):
        bare = Reading(
            id=f"{at:04}",
            heater=case.heater.id,
            key=key,
            stage=Stage.AS_FOUND,
            taken_at=datetime(2025, 3, 12, 9, tzinfo=UTC),
        )
        match answer:
            case None:
                readings.append(replace(bare, note=NOT_HAD))
            case int():
                readings.append(replace(bare, value=Decimal(answer)))
            case str():
                readings.append(replace(bare, state=answer))
    return replace(case, visit=replace(case.visit, readings=tuple(readings)))


def called(shelf: Shelf, answers: Mapping[str, str | int | None]) -> tuple[FaultCase, Call]:
    """Where the call stands after these answers."""
    found = find_in_case(with_answers(example(shelf), answers), shelf)
    return found, call(
        found.finding, found.evidence, read=found.read, catalogue=shelf.catalogue, faults=shelf.faults
    )


def whole_call(shelf: Shelf, knows: Mapping[str, str | int | None]) -> tuple[list[str], Call]:
    """A call to an owner who knows this and nothing else: what he was asked, and how it ended."""
    answers: dict[str, str | int | None] = {
        key: answer for key, answer in knows.items() if key.startswith(REPAIR)
    }
    asked: list[str] = []
    for _ in range(20):
        _, now = called(shelf, answers)
        if now.ending is not None:
            return asked, now
        assert now.question is not None
        key = now.question.key
        asked.append(key)
        answers[key] = knows.get(key, DANGERLESS.get(key))
    raise AssertionError(f"the call never ended: {asked}")

"""A figure that was asked about and counts as written is told with what was asked."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from lightoff.ground import units
from lightoff.judging.assessment import Verdict
from lightoff.judging.believed import GATING
from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.terms.visit import Reading, Stage
from lightoff.texts import Speaker
from lightoff.work import assess_case as judging
from lightoff.work.asked_about import asked_about
from lightoff.work.assess_case import assess_case
from lightoff.work.visit_file import read_visit_file

INTAKE = 'key = "combustion_air_temperature", value = 11'
ASKED = "Intake air is 52 °C, which is far from what is usual. Did the instrument show 52 °F? Check the unit."


def told(case: Case, shelf: Shelf) -> list[str]:
    return [Speaker().say(each).replace("\u00a0", " ") for each in asked_about(case, shelf)]


def test_what_was_kept_to_is_told_once_for_two_sets(with_probe: str, shelf: Shelf) -> None:
    text = with_probe.replace(INTAKE, f"{INTAKE[:-2]}52").replace(
        '52, unit = "degC"', '52, unit = "degC", confirmed = true'
    )
    case = read_visit_file(text.encode(), "visit.toml", shelf)
    assert told(case, shelf) == [f"{ASKED} Asked this, the technician kept to it."]
    unanswered = tuple(replace(each, confirmed=False) for each in case.visit.readings)
    case = replace(case, visit=replace(case.visit, readings=unanswered))
    assert told(case, shelf) == [f"{ASKED} Nobody has answered this; the figures take it as written."]


def test_nothing_is_told_of_an_everyday_visit(with_probe: str, shelf: Shelf) -> None:
    assert told(read_visit_file(with_probe.encode(), "visit.toml", shelf), shelf) == []


def otherwise(reading: Reading, shelf: Shelf) -> Iterator[Reading]:
    """The same reading as other figures in its unit, some of them rare, and its figures in other units."""
    assert reading.value is not None
    entry = shelf.catalogue.entries[reading.key]
    for beyond in ("1.01", "1.2", "1.5") if entry.plausible_high else ():
        value = Decimal(str(entry.plausible_high)) * Decimal(beyond)
        yield replace(reading, value=value, unit=entry.unit, confirmed=False)
    for times in ("0.001", "0.01", "0.1", "0.3", "1.5", "2", "5", "6", "10", "20", "61", "100"):
        yield replace(reading, value=reading.value * Decimal(times), confirmed=False)
    for unit in units.UNITS:
        yield replace(reading, unit=unit, confirmed=False)


def with_one(case: Case, reading: Reading) -> Case:
    there = tuple(reading if each.id == reading.id else each for each in case.visit.readings)
    return replace(case, visit=replace(case.visit, readings=there))


def test_what_looks_mistaken_proves_nothing_till_somebody_answers(with_probe: str, shelf: Shelf) -> None:
    """Each number that a gate rests on, as other figures: asked about and not answered, never fit."""
    case = read_visit_file(with_probe.encode(), "visit.toml", shelf)
    now = case.visit.started_at + timedelta(hours=8)
    assert assess_case(case, shelf, now).verdict.verdict is Verdict.FIT
    asked, kept_to = set(), set()
    for reading in case.visit.readings:
        if reading.value is None or reading.key not in GATING or reading.stage is not Stage.AS_LEFT:
            continue
        for other in otherwise(reading, shelf):
            mistaken = with_one(case, other)
            if not asked_about(mistaken, shelf):
                continue
            asked.add(other.key)
            assert assess_case(mistaken, shelf, now).verdict.verdict is not Verdict.FIT, other
            answered = with_one(case, replace(other, confirmed=True))
            if assess_case(answered, shelf, now).verdict.verdict is Verdict.FIT:
                kept_to.add(other.key)
    assert {"outdoor_co", "co_response", "living_space_co_running", "flue_co"} <= asked
    assert kept_to == {"outdoor_co", "co_response"}  # so it is this gate, and no other, that held those open


def test_what_no_gate_rests_on_holds_none_open(with_probe: str, shelf: Shelf) -> None:
    case = read_visit_file(with_probe.encode(), "visit.toml", shelf)
    intake = next(each for each in case.visit.readings if each.key == "combustion_air_temperature")
    case = with_one(case, replace(intake, value=Decimal(52)))
    assert asked_about(case, shelf)
    now = case.visit.started_at + timedelta(hours=8)
    assert assess_case(case, shelf, now).verdict.verdict is Verdict.FIT


def test_an_error_while_looking_is_not_proven(
    with_probe: str, shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(judging, "unanswered", broken)
    case = read_visit_file(with_probe.encode(), "visit.toml", shelf)
    found = assess_case(case, shelf, case.visit.started_at + timedelta(hours=8)).verdict
    assert found.verdict is Verdict.NOT_PROVEN
    gate = next(each for each in found.gates if each.gate == "belongs here")
    assert gate.said.key == "judging.gate_broke"

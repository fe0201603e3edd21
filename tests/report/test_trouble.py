"""The part of the report that tells of a search for a fault: plain, short, never softer than the verdict."""

from __future__ import annotations

import io
import sys
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from pdf_inside import words

from lightoff.judging.assessment import Verdict
from lightoff.report import owner_report
from lightoff.report.trouble import MOST_TRIED, trouble
from lightoff.shelf import Shelf, open_shelf
from lightoff.terms.case import Case
from lightoff.terms.visit import Reading, Stage
from lightoff.texts import Speaker
from lightoff.work.assess_case import assess_case
from lightoff.work.find_fault import LookedFor, fault_looked_for
from lightoff.work.visit_file import read_visit_file

TESTS = Path(__file__).parents[1]
sys.path.insert(0, str(TESTS))
from soft_words import softer  # noqa: E402

EXAMPLE = TESTS.parent / "examples" / "no-heat-call.toml"
SHELF: Shelf = open_shelf()
SAY = Speaker()
NOW = datetime(2025, 3, 12, 18, 0, tzinfo=UTC)


def case(**tried: str) -> Case:
    """The no-heat call with these trials and repairs."""
    found = read_visit_file(EXAMPLE.read_bytes(), EXAMPLE.name, SHELF)
    more = [
        Reading(
            id=f"z-{at:03}",
            heater=found.heater.id,
            key=key,
            stage=Stage.AS_FOUND,
            taken_at=datetime(2025, 3, 12, 16, tzinfo=UTC) + timedelta(minutes=at),
            state=state,
        )
        for at, (key, state) in enumerate(tried.items())
    ]
    return replace(found, visit=replace(found.visit, readings=(*found.visit.readings, *more)))


def found_in(told: Case) -> LookedFor:
    found = fault_looked_for(told, SHELF)
    assert found is not None
    return found


def part(told: Case) -> dict[str, Any]:
    made = trouble(found_in(told), SAY)
    assert made is not None
    return made


def test_it_tells_the_owners_words_the_suspects_and_what_was_tried() -> None:
    told = part(
        case(good_fuel_can="no change", repair_suction_air_leak="no change", good_battery="could not do")
    )
    said = " ".join(told["said"])
    assert "You told us: lights, then dies." in said
    assert "fuel filter" in said
    assert "Suspected" in said or "No single cause" in said
    assert len(told["tried"]) == 2, "what could not be done is no news"
    assert all("no change" in each for each in told["tried"])
    assert "no proof" in told["note"]


def test_a_repair_that_helped_takes_the_place_of_the_suspects() -> None:
    told = part(case(repair_fuel_filter_not_primed="runs well"))
    said = " ".join(told["said"])
    assert "Mended: Fuel filter fitted without filling." in said
    assert "Suspected" not in said


def test_the_last_good_run_stands_here_and_what_nobody_said_is_not_told_as_said() -> None:
    told = case(start_once_more="no change")
    assert "Last good run: not since the last service." in part(told)["said"]
    assert part(told)["tried"] == ["Started once more: no change."]
    assert {"last_good_run", "start_once_more"} <= found_in(told).told
    bare = [each for each in told.visit.readings if each.key != "last_work"]
    unsaid = part(replace(told, visit=replace(told.visit, readings=tuple(bare))))
    assert "Touched last" not in " ".join(unsaid["said"])


def test_many_trials_are_counted_and_not_listed() -> None:
    tried = dict.fromkeys(list(SHELF.trials)[:4], "no change")
    tried |= {f"repair_{key}": "no change" for key in list(SHELF.faults)[:6]}
    told = part(case(**tried))
    assert len(told["tried"]) == MOST_TRIED
    assert str(len(tried) - MOST_TRIED) in told["more"]


def test_nobody_looked_and_nothing_is_told() -> None:
    assert trouble(None, SAY) is None


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_it_prints_within_the_rules_of_the_report(paper: str) -> None:
    told = case(good_fuel_can="no change", repair_fuel_filter_not_primed="runs well")
    assessment = assess_case(told, SHELF, NOW)
    assert assessment.verdict.verdict is Verdict.NOT_PROVEN
    facts: dict[str, Any] = {"shelf": SHELF, "speaker": SAY, "photos": {}, "paper": paper}
    pdf = owner_report(told, assessment, found=found_in(told), **facts)
    text = words(pikepdf.open(io.BytesIO(pdf)))
    assert "Looking for the fault" in text
    assert "After it the trouble was gone" in text
    assert not softer(text, Verdict.NOT_PROVEN, "en")
    assert "Repair" not in text
    plain = words(pikepdf.open(io.BytesIO(owner_report(told, assessment, **facts))))
    assert "Looking for the fault" not in plain


def test_the_same_search_gives_the_same_bytes() -> None:
    told = case(good_fuel_can="no change")
    assessment = assess_case(told, SHELF, NOW)
    facts: dict[str, Any] = {"shelf": SHELF, "speaker": SAY, "photos": {}}
    one, two = (owner_report(told, assessment, found=found_in(told), **facts) for _ in range(2))
    assert one == two

"""A figure that was asked about and counts as written is told with what was asked."""

from __future__ import annotations

from dataclasses import replace

from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.texts import Speaker
from lightoff.work.asked_about import asked_about
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

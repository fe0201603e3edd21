"""`lightoff find`: a visit file in, its suspects and the next step out."""

from __future__ import annotations

import json
import shutil
import sys
import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click

from lightoff.cli.reading import file_bytes, shelf_of, speaker_of, with_its_past
from lightoff.cli.telling import printable, say, tell
from lightoff.faultfinding import Kind, Step, telling
from lightoff.ground.errors import Refusals
from lightoff.ground.message import Amount
from lightoff.shelf import REPAIR
from lightoff.terms.shelf import Catalogue
from lightoff.terms.visit import NOT_HAD
from lightoff.texts import Speaker
from lightoff.work.find_fault import FaultCase, find_in_case
from lightoff.work.heater_past import past_not_at_hand
from lightoff.work.visit_file import read_good_rows

FORMAT = "lightoff finding 1"
_STEPS = 5
_WIDEST = 96


def find(file: Path, *, as_json: bool, shop: Path | None, units: str | None) -> None:
    """Print who is suspected in the visit of a file, why, and what to do next."""
    shelf = shelf_of(shop)
    for problem in shelf.problems:
        say(Speaker().say(problem.message))
    read = read_good_rows(file_bytes(file), file.name, shelf)
    if read.case is None:
        raise Refusals(read.faults)
    if read.faults:
        tell(Refusals(read.faults))
    case = with_its_past(read.case, shop)
    missing = past_not_at_hand(case, read.earlier_visits)
    if missing is not None:
        say(Speaker().say(missing))
    found = find_in_case(case, shelf)
    speaker = speaker_of(case, shelf, units)
    text = (
        json.dumps(data_of(found, speaker), indent=2, ensure_ascii=False)
        if as_json
        else "\n".join(_summary(found, shelf.catalogue, speaker))
    )
    click.echo(printable(text, sys.stdout))


def data_of(found: FaultCase, speaker: Speaker) -> dict[str, Any]:
    """The finding as data: chances as shares, numbers SI, the words of the page beside them."""
    finding = found.finding
    return {
        "format": FORMAT,
        "said": [speaker.say(each) for each in telling.conclusion(finding)],
        "weighed_for": speaker.say(found.weighed_for),
        "sound": finding.sound,
        "unknown": finding.unknown,
        "check_again": list(finding.check_again),
        "suspects": [
            {
                "fault": each.fault,
                "name": speaker.text(f"fault.{each.fault}"),
                "chance": each.chance,
                "low": each.low,
                "high": each.high,
                "for": [speaker.say(said) for said in telling.speaks_for(each, found.evidence)],
                "against": [speaker.say(said) for said in telling.speaks_against(each, found.evidence)],
            }
            for each in finding.suspects
        ],
        "next": _step_data(found.next_step, speaker, found),
        "steps": [_step_data(each, speaker, found) for each in finding.steps[:_STEPS]],
    }


def _step_data(step: Step, speaker: Speaker, found: FaultCase) -> dict[str, Any]:
    return {
        "kind": step.kind.value,
        "key": step.key,
        "name": speaker.say(telling.step_name(step)),
        "how": speaker.say(telling.step_how(step)),
        "why": speaker.say(telling.why(step, chosen=step != found.next_step)),
        "minutes": step.minutes,
        "expected_minutes": step.expected_minutes,
        "saves_minutes": step.saves_minutes,
        "cautions": [speaker.text(f"caution.{caution}") for caution in step.cautions],
        "outcomes": [speaker.say(said) for said in telling.outcomes(step)],
        "along": list(step.along),
    }


def _rows(step: Step, catalogue: Catalogue, speaker: Speaker) -> Iterator[str]:
    """The rows by which the answer is written into the file."""
    if step.kind is Kind.REPAIR:
        keys: tuple[str, ...] = (REPAIR + step.key,)
    else:
        keys = (step.key,) if step.kind is Kind.TRIAL else (*telling.readings_of(step), *step.along)
    rows = [catalogue.entries[key] for key in keys if key in catalogue.entries]
    for entry in rows:
        if entry.states:
            states = ", ".join(f'"{each}"' for each in entry.states)
            yield speaker.text("cli.write_state", key=entry.key, states=states)
        else:
            yield speaker.text("cli.write_number", key=entry.key, unit=entry.unit)
    if rows and NOT_HAD not in rows[0].states:
        yield speaker.text("cli.write_not_had", key=rows[0].key, note=NOT_HAD)


def _summary(found: FaultCase, catalogue: Catalogue, speaker: Speaker) -> Iterator[str]:
    finding, case = found.finding, found.case
    day = speaker.date_of(case.visit.started_at)
    yield speaker.text("cli.title", vehicle=case.vehicle.name, heater=case.heater.name, day=day)
    for said in (*telling.conclusion(finding), found.weighed_for):
        yield from _wrapped(speaker.say(said), "")
    yield ""
    yield speaker.text("cli.suspects")
    for each in finding.suspects:
        chance = speaker.text(telling.chance_word(each.chance))
        yield speaker.text(
            "cli.suspect",
            fault=f"@fault.{each.fault}",
            chance=chance,
            share=telling.share(each.chance, each.low, each.high),
        )
        for said in telling.speaks_for(each, found.evidence):
            yield from _wrapped(speaker.say(said), "  + ")
        for said in telling.speaks_against(each, found.evidence):
            yield from _wrapped(speaker.say(said), "  − ")
    yield ""
    yield speaker.text("cli.next_step")
    first = found.next_step
    minutes = Amount(value=60.0 * first.minutes, dimension="minutes")
    yield speaker.text("cli.step", step=speaker.say(telling.step_name(first)), minutes=minutes)
    yield from _wrapped(speaker.say(telling.step_how(first)), "  ")
    yield from _wrapped(speaker.say(telling.why(first)), "  ")
    if first.along:
        names = [speaker.text(f"reading.{key}") for key in first.along]
        yield from _wrapped(speaker.text("cli.along", what=", ".join(names)), "  ")
    for caution in first.cautions:
        yield from _wrapped(speaker.text(f"caution.{caution}"), "  ! ")
    for said in telling.outcomes(first):
        yield from _wrapped(speaker.say(said), "    ")
    # To be copied, and so never broken.
    yield from (f"  {row}" for row in _rows(first, catalogue, speaker))
    yield ""
    yield speaker.text("cli.other_steps")
    for step in [each for each in finding.steps[:_STEPS] if each != first]:
        minutes = Amount(value=60.0 * step.minutes, dimension="minutes")
        yield "  " + speaker.text("cli.step", step=speaker.say(telling.step_name(step)), minutes=minutes)
    if case.shop.invented:
        yield ""
        yield speaker.text("cli.invented")


def _wrapped(sentence: str, lead: str) -> list[str]:
    width = min(_WIDEST, shutil.get_terminal_size((_WIDEST, 24)).columns)
    return textwrap.wrap(
        sentence, width, initial_indent=lead or "  ", subsequent_indent=" " * max(len(lead), 2)
    )

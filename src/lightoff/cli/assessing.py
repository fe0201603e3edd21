"""`lightoff assess`: a visit file in, its judgement out."""

from __future__ import annotations

import json
import sys
from importlib.resources import files
from pathlib import Path

import click

from lightoff.cli.as_data import data_of
from lightoff.cli.reading import file_bytes, moment, shelf_of, speaker_of, with_its_past
from lightoff.cli.summary import summary
from lightoff.cli.telling import printable, say, tell
from lightoff.ground.errors import Refusals
from lightoff.judging.assessment import Verdict
from lightoff.terms.people import Planning
from lightoff.texts import Speaker
from lightoff.work.asked_about import asked_about
from lightoff.work.assess_case import assess_case, with_set_aside
from lightoff.work.heater_past import without_its_past
from lightoff.work.order_of_visit import unanswered
from lightoff.work.visit_file import read_good_rows

EXIT_CODES = {Verdict.FIT: 0, Verdict.NOT_PROVEN: 10, Verdict.NOT_FIT: 20, Verdict.STOP: 30}


def assess(file: Path, *, as_json: bool, keep_going: bool, shop: Path | None, units: str | None) -> None:
    """Print the judgement of a visit file and end with the code of its verdict."""
    shelf = shelf_of(shop)
    for problem in shelf.problems:
        say(Speaker().say(problem.message))
    read = read_good_rows(file_bytes(file), file.name, shelf)
    if read.case is None or (read.faults and not keep_going):
        raise Refusals(read.faults)
    if read.faults:
        tell(Refusals(read.faults))
    case = with_its_past(read.case, shop)
    assessment = with_set_aside(assess_case(case, shelf, moment()), read.faults)
    assessment = without_its_past(assessment, case, read.earlier_visits)
    speaker = speaker_of(case, shelf, units)
    if as_json:
        text = json.dumps(data_of(assessment, speaker), indent=2, ensure_ascii=False)
    else:
        left_out = unanswered(case, shelf, planning=Planning())
        text = summary(case, assessment, speaker, unanswered=left_out, asked=asked_about(case, shelf))
    click.echo(printable(text, sys.stdout))
    click.get_current_context().exit(EXIT_CODES[assessment.verdict.verdict])


def print_schema() -> None:
    """The JSON Schema of a visit file, as it ships."""
    schema = files("lightoff.work").joinpath("visit-file.schema.json").read_text(encoding="utf-8")
    click.echo(schema.rstrip("\n"))

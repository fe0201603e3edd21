"""`lightoff report`: a visit file in, the owner's report out."""

from __future__ import annotations

import os
from pathlib import Path

import click

from lightoff.cli.reading import file_bytes, moment, shelf_of, speaker_of, with_its_past
from lightoff.ground.errors import NotFound, Refusal, Refusals
from lightoff.ground.message import message
from lightoff.report import owner_report
from lightoff.terms.case import Case
from lightoff.terms.people import Planning
from lightoff.work.assess_case import assess_case
from lightoff.work.find_fault import fault_looked_for
from lightoff.work.heater_past import without_its_past
from lightoff.work.order_of_visit import unanswered
from lightoff.work.visit_file import read_good_rows

_OURS = b"/Keywords(lightoff owner report)"  # as the template sets it


def report(file: Path, *, output: Path, paper: str | None, shop: Path | None, units: str | None) -> None:
    """Write the report of a visit file; an old one is replaced only by a whole new one."""
    _refuse_to_overwrite(output)
    shelf = shelf_of(shop)
    data = file_bytes(file)
    read = read_good_rows(data, file.name, shelf)
    if read.faults or read.case is None:
        raise Refusals(read.faults)
    case = with_its_past(read.case, shop)
    assessment = without_its_past(assess_case(case, shelf, moment()), case, read.earlier_visits)
    speaker = speaker_of(case, shelf, units)
    pdf = owner_report(
        case,
        assessment,
        shelf=shelf,
        speaker=speaker,
        photos=_photos(case, shop),
        paper=paper or case.shop.paper,
        attachment=data,
        found=fault_looked_for(case, shelf),
        unanswered=unanswered(case, shelf, planning=Planning()),
    )
    _write(output, pdf)
    verdict = speaker.text(f"verdict.{assessment.verdict.verdict}")
    click.echo(speaker.text("cli.report_written", path=str(output), verdict=verdict))


def _photos(case: Case, shop: Path | None) -> dict[str, bytes]:
    """The pictures that lie in the shop's book."""
    if shop is None or not case.visit.photos:
        return {}
    from lightoff.work.workshop import open_shop

    found = {}
    with open_shop(shop, create=False) as workshop:
        for photo in case.visit.photos:
            try:
                found[photo.sha256] = workshop.book.photo_bytes(photo.sha256)
            except NotFound:
                continue
    return found


def _refuse_to_overwrite(output: Path) -> None:
    """A report replaces a report and nothing else: neither the visit file nor another PDF. Raises Refusal."""
    if not output.name or output.is_dir():
        raise Refusal(message("cli.output_is_folder", path=str(output)), field="output")
    if not output.parent.is_dir():
        nowhere = message("cli.output_nowhere", path=str(output), folder=str(output.parent))
        raise Refusal(nowhere, field="output")
    try:
        with output.open("rb") as there:
            is_report = output.is_file() and _OURS in there.read()
    except FileNotFoundError:
        return
    except OSError:
        return  # it cannot be read; whether it can be written is told when that is tried
    if not is_report:
        raise Refusal(message("cli.output_no_report", path=str(output)), field="output")


def _write(output: Path, data: bytes) -> None:
    making = output.with_name(f"{output.name}.making")
    try:
        making.write_bytes(data)
        os.replace(making, output)
    except OSError as trouble:
        making.unlink(missing_ok=True)
        reason = trouble.strerror or str(trouble)
        raise Refusal(
            message("cli.cannot_write", path=str(output), reason=reason), field="output"
        ) from trouble

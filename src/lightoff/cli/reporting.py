"""`lightoff report`: a visit file in, the owner's report out."""

from __future__ import annotations

import os
from pathlib import Path

import click

from lightoff.cli.reading import file_bytes, moment, shelf_of
from lightoff.ground.errors import NotFound, Refusal
from lightoff.ground.message import message
from lightoff.report import owner_report
from lightoff.terms.case import Case
from lightoff.texts import Speaker
from lightoff.work.assess_case import assess_case
from lightoff.work.visit_file import read_visit_file


def report(file: Path, *, output: Path, paper: str | None, shop: Path | None, units: str | None) -> None:
    """Write the report of a visit file; an old one is replaced only by a whole new one."""
    shelf = shelf_of(shop)
    data = file_bytes(file)
    case = read_visit_file(data, file.name, shelf)
    assessment = assess_case(case, shelf, moment())
    speaker = Speaker(
        language=case.shop.language, units=units or case.shop.units, own=shelf.catalogue.own_words
    )
    pdf = owner_report(
        case,
        assessment,
        shelf=shelf,
        speaker=speaker,
        photos=_photos(case, shop),
        paper=paper or case.shop.paper,
        attachment=data,
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

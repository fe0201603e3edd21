"""Make the invented shop in a folder of its own."""

from __future__ import annotations

import io
import shutil
from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path

import numpy as np

from lightoff.demo import DemoShop, invent_shop
from lightoff.demo.lives import invent_parts
from lightoff.demo.logs import invent_log
from lightoff.demo.photographs import Photograph, invent_photographs
from lightoff.ground.errors import Refusal
from lightoff.ground.ids import RANDOM_BYTES
from lightoff.ground.message import message
from lightoff.plant.phases import phases
from lightoff.records import Book, body_of, field_of
from lightoff.shelf import Shelf, open_shelf
from lightoff.terms.case import Case
from lightoff.terms.entry import Entry
from lightoff.terms.part import Bin, Part
from lightoff.terms.visit import Photo, Stage
from lightoff.work.keep_trace import find_trace, trace_entry
from lightoff.work.keep_visit_file import entries_of
from lightoff.work.read_numbers import conditions_of
from lightoff.work.workshop import BOOK, INVENTED

SEED = 20261125
JPEG_QUALITY = 80
LOGGED = ((0, 6.0, 0.75, 5), (0, 15.0, 0.5, 5), (7, 9.0, 3.0, 20), (23, 4.0, 2.5, 20))
"""Heaters by their place in the fleet that a logger was left with: how many days ago, for how many, and every
how many seconds it wrote. Those of one write fast enough to tell starts, the others tell the hours alone."""
_MARK_WORDS = "The shop in this folder is invented. It is made anew by: lightoff demo --fresh\n"


def make_demo_shop(folder: Path, now: datetime, *, fresh: bool = False, times: int = 1) -> Path:
    """The folder of an invented shop up to `now`; one that stands already is left as it is.

    `fresh` makes it anew; `times` makes it as many times as large, with one kit of instruments. It is made
    beside its place and moved there when it is whole, so that a killed program leaves no half a shop.
    Raises Refusal for a folder that holds something else.
    """
    is_demo = (folder / INVENTED).is_file()
    if is_demo and not fresh:
        return folder
    try:
        if folder.exists() and not is_demo and (not folder.is_dir() or any(folder.iterdir())):
            raise Refusal(message("shop.not_a_demo", path=str(folder)), field="folder")
        folder.parent.mkdir(parents=True, exist_ok=True)
        making = folder.with_name(f"{folder.name}.making")
        shutil.rmtree(making, ignore_errors=True)
        making.mkdir()
        _fill(making, now, times)
        if folder.exists():
            shutil.rmtree(folder)
        making.rename(folder)
    except OSError as trouble:
        reason = trouble.strerror or str(trouble)
        said = message("shop.cannot_make_folder", path=str(folder), reason=reason)
        raise Refusal(said, field="folder") from trouble
    return folder


def _fill(folder: Path, now: datetime, times: int) -> None:
    shelf = open_shelf(None)
    rng = np.random.default_rng(SEED)
    told: set[tuple[str, str]] = set()
    with Book.open(folder / BOOK) as book:
        invented = partial(
            invent_shop,
            rng,
            fuels=shelf.fuels,
            sheets=shelf.sheets,
            faults=shelf.faults,
            catalogue=shelf.catalogue,
            now=now,
        )
        first = invented()
        _keep(book, _with_photographs(first, invent_photographs(rng, first), book), shelf, now, 1, told)
        _keep_logs(book, first, shelf, now)
        for number in range(2, times + 1):
            _keep(book, invented(more_of=first, number=number).cases, shelf, now, number, told)
    (folder / INVENTED).write_text(_MARK_WORDS, encoding="utf-8")


def _keep_logs(book: Book, first: DemoShop, shelf: Shelf, now: datetime) -> None:
    """Logs that a logger never wrote of the heaters as they are now, read as any file is."""
    rng = np.random.default_rng([SEED, 0])
    last = {case.heater.id: case for case in first.cases}
    heaters = [last[each].heater for each in sorted(last)]
    entries = []
    for place, days_ago, days, step_s in LOGGED:
        heater = heaters[place % len(heaters)]
        sheet = shelf.sheets[heater.sheet]
        unit = first.units[heater.id]
        there = conditions_of(last[heater.id], shelf, stage=Stage.AS_LEFT)
        levels = phases(sheet, there, unit.nature + unit.worn)
        began = (now - timedelta(days=days_ago)).replace(minute=0, second=0, microsecond=0)
        log = invent_log(rng, sheet, levels, began_at=began, days=days, step_s=step_s)
        data = log.written().encode()
        entries.append(
            trace_entry(
                find_trace(data, sheet, shelf),
                heater.id,
                now,
                file_name=f"logger-{began:%Y-%m-%d}.csv",
                author=first.shop.technician,
                randomness=rng.bytes(RANDOM_BYTES),
                sha256=book.keep_log(data),
            )
        )
    book.keep(entries)


def _keep(
    book: Book,
    cases: tuple[Case, ...],
    shelf: Shelf,
    now: datetime,
    number: int,
    told: set[tuple[str, str]],
) -> None:
    """The cases with the parts of their heaters, and the bins of the shop once."""
    lived = invent_parts(np.random.default_rng([SEED, number]), cases, shelf.part_types, now)
    book.keep(_told_once(lived.cases, told))
    nouns: list[Part | Bin] = [*lived.parts, *(lived.bins if number == 1 else ())]
    author = cases[0].shop.technician
    book.keep(
        [
            Entry(
                id=each.id, subject=each.id, field=field_of(each), value=body_of(each), author=author, at=now
            )
            for each in nouns
        ]
    )


def _told_once(cases: tuple[Case, ...], told: set[tuple[str, str]]) -> tuple[Entry, ...]:
    """What the cases say: a noun is told once, each part of a visit stands for itself."""
    entries = []
    for case in cases:
        for entry in entries_of(case):
            part = entry.subject == case.visit.id and entry.field != "visit"
            named = (entry.field, entry.id if part else entry.subject)
            if named not in told:
                told.add(named)
                entries.append(entry)
    return tuple(entries)


def _with_photographs(invented: DemoShop, shots: tuple[Photograph, ...], book: Book) -> tuple[Case, ...]:
    """The cases with their pictures, whose bytes lie in the book from here on."""
    photos: dict[str, list[Photo]] = {}
    for shot in shots:
        written = io.BytesIO()
        shot.picture.save(written, "JPEG", quality=JPEG_QUALITY)
        photo = Photo(
            id=shot.id,
            heater=shot.heater,
            taken_at=shot.taken_at,
            sha256=book.keep_photo(written.getvalue(), "image/jpeg"),
            media_type="image/jpeg",
            reading_key=shot.reading_key,
            stage=shot.stage,
            caption=shot.caption,
        )
        photos.setdefault(shot.visit, []).append(photo)
    of_reading = {shot.reading: shot.id for shot in shots if shot.reading}
    return tuple(
        replace(
            case,
            visit=replace(
                case.visit,
                photos=tuple(photos[case.visit.id]),
                readings=tuple(replace(each, photo=of_reading.get(each.id)) for each in case.visit.readings),
            ),
        )
        if case.visit.id in photos
        else case
        for case in invented.cases
    )

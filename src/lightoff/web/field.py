"""One field of the card as its template shows it: everything said, nothing left to look up.

A card has about a hundred fields and most of them are like those of the card before, so the frame of a
field is drawn once and filled with what was read.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import datetime
from functools import lru_cache, partial
from typing import Any

from markupsafe import Markup

from lightoff.ground.values import dataclass
from lightoff.terms.case import Case
from lightoff.terms.people import Instrument
from lightoff.terms.visit import Reading
from lightoff.texts.speaker import Speaker
from lightoff.web import card, marked
from lightoff.web.page import Page, closed_up, pieces, told
from lightoff.work.last_few import LastFew


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What a field shows; a mark stands for what fills it. Texts are empty where there is nothing.

    `reading` is the id of the entry.
    """

    id: str
    key: str
    stage: str
    set_number: str
    one_a_start: bool
    kind: str
    is_number: bool
    can_top: bool
    timed: bool
    asks_nought: bool
    bases: tuple[str, ...]
    own_bases: str  # how each instrument reads, as JSON: a fact of the meter
    states: tuple[str, ...]
    units: tuple[str, ...]
    unit: str
    instruments: tuple[tuple[str, str], ...]  # id and name of those that can read it
    instrument: str
    instrument_name: str
    reading: str
    taken: str
    clock: str
    taken_words: Markup
    confirmed: bool
    photo: str
    note: str
    written: str
    beside: str  # what else was read so in the same test
    basis: str
    state: str
    place: str
    at_top: bool
    doubt: str
    scale: Markup


_NOTHING = Markup()
_UNREAD = dict.fromkeys(
    ("reading", "taken", "clock", "taken_words", "photo", "written", "place", "note", "beside"), ""
)


def drawn_fields(
    page: Page,
    fields: Sequence[card.Field],
    case: Case,
    *,
    scales: Mapping[str, Markup],
    doubts: Mapping[str, Mapping[str, Any]],
) -> dict[str, Markup]:
    """The field of each slot, by its id."""
    drawn = {}
    known = (page.house.environment, page.speaker, page.shelf.catalogue.sha256)
    for field in fields:
        reading, id_ = field.reading, field.slot.id
        doubt = doubts.get(reading.id, {}).get("sentence", "") if reading else ""
        said = {**_said(page, field), "doubt": doubt, "scale": scales.get(id_, _NOTHING)}
        meters = tuple((each.id, each.name, each.o2_basis) for each in field.instruments)
        stands = (bool(said["scale"]),) if reading is None else _stands(reading, case, said)
        frame = _frames.of((*known, field.slot, meters, *stands), partial(_drawn, page, field, case, said))
        drawn[id_] = marked.filled(frame, said)
    return drawn


# A frame is some two kilobytes; a shop sees some thousand of them.
_frames: LastFew[tuple[str, ...]] = LastFew(4096)


def _drawn(page: Page, field: card.Field, case: Case, said: Mapping[str, str]) -> tuple[str, ...]:
    """The frame of a field, with marks for what fills it."""
    shown = _shown(page, field, case, said)
    drawn = pieces(page.house.environment, "field.html", page.speaker).field(shown)
    return marked.cut(closed_up(str(drawn)))


def _stands(reading: Reading, case: Case, said: Mapping[str, str]) -> tuple[object, ...]:
    """What of a reading the frame of its field itself shows."""
    instrument = _instrument(reading, case)
    return (
        *(reading.unit, reading.set_number, reading.basis, reading.state, reading.at_top, reading.confirmed),
        *(reading.instrument, instrument.name if instrument else ""),
        *(bool(said[each]) for each in _FILLED),
    )


# What differs from one visit's field to the next; the rest is drawn once, with a mark in the place of each.
_FILLED = (
    "reading",
    "taken",
    "clock",
    "taken_words",
    "photo",
    "written",
    "place",
    "note",
    "beside",
    "doubt",
    "scale",
)
_MARKS = {name: marked.mark(name) for name in _FILLED}


def _said(page: Page, field: card.Field) -> dict[str, str]:
    """What the reading of this very visit says, by the part of the field that it fills."""
    reading = field.reading
    if reading is None:
        return _UNREAD
    taken_at = reading.taken_at
    return {
        "reading": reading.id,
        "taken": taken_at.isoformat() if taken_at else "",
        "clock": page.speaker.clock(taken_at) if taken_at else "",
        "taken_words": _taken_words(page.speaker, _to_the_minute(taken_at)) if taken_at else _NOTHING,
        "photo": reading.photo or "",
        "written": written(reading),
        "place": reading.place,
        "note": reading.note,
        "beside": ", ".join(page.speaker.reading(each) for each in field.beside),
    }


@lru_cache(maxsize=1024)
def _taken_words(speaker: Speaker, clock: datetime) -> Markup:
    return told(speaker, "web.taken_at", clock=clock)


def _to_the_minute(when: datetime) -> datetime:
    return when.replace(second=0, microsecond=0)


def _shown(page: Page, field: card.Field, case: Case, said: Mapping[str, str]) -> Shown:
    """The field with a mark wherever something is said."""
    entry, slot, reading = field.entry, field.slot, field.reading
    units = card.units_for(entry) if field.is_number else ()
    if units and reading is not None and reading.unit:
        units = tuple(dict.fromkeys((*units, reading.unit)))  # what stands is shown in its own unit
    opens_with = card.shown_unit(entry, page.preferences.units) if field.is_number else ""
    only = field.instruments[0].id if field.is_number and len(field.instruments) == 1 else ""
    instrument = _instrument(reading, case)
    marks: dict[str, Any] = {name: mark if said[name] else _NOTHING for name, mark in _MARKS.items()}
    return Shown(
        id=slot.id,
        key=entry.key,
        stage=slot.stage.value,
        set_number=str(slot.set_number or (reading.set_number if reading is not None else None) or ""),
        one_a_start=entry.key in card.ONE_A_START,
        kind=slot.kind,
        is_number=field.is_number,
        can_top=field.can_top,
        timed="stopwatch" in entry.classes,
        asks_nought=entry.key in card.ZERO_TO_CONFIRM,
        bases=entry.bases,
        own_bases=json.dumps(_own_bases(field)) if entry.bases else "",
        states=entry.states,
        units=units,
        unit=(reading.unit if reading else "") or opens_with,
        instruments=tuple((each.id, each.name) for each in field.instruments),
        instrument=(reading.instrument or "") if reading else only,
        instrument_name=instrument.name if instrument else "",
        confirmed=reading is not None and reading.confirmed,
        basis=(reading.basis or "") if reading else "",
        state=(reading.state or "") if reading else "",
        at_top=reading is not None and reading.at_top,
        **marks,
    )


def _own_bases(field: card.Field) -> dict[str, str]:
    """How each instrument reads oxygen, as the shop's own list of instruments says.

    Gates rest on it, so what was tapped on another visit says nothing; nor does it of carbon dioxide, where
    *measured* closes a gate.
    """
    if field.slot.key != "flue_o2":
        return {}
    return {each.id: each.o2_basis for each in field.instruments if each.o2_basis in field.entry.bases}


def _instrument(reading: Reading | None, case: Case) -> Instrument | None:
    return case.instruments.get(reading.instrument or "") if reading else None


def written(reading: Reading | None) -> str:
    """The number as it was typed; dashes for a meter at its top."""
    if reading is None:
        return ""
    if reading.value is None:
        return "----" if reading.at_top else ""
    return f"{reading.value:f}"

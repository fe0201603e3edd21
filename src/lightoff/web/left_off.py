"""Where a visit was interrupted: who said the last thing, of what, and how long ago."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import TypeAlias

from markupsafe import Markup

from lightoff.ground.errors import NotFound
from lightoff.ground.values import dataclass
from lightoff.judging.steps_told import PROCEDURE
from lightoff.terms.case import Case
from lightoff.terms.part import StepDone
from lightoff.terms.visit import Event, Photo, Reading, Visit
from lightoff.web.card import STEPS, Slot
from lightoff.web.page import Page

Said: TypeAlias = StepDone | Reading | Event | Photo
INTERRUPTED = timedelta(minutes=2)
"""A pause shorter than this is no interruption. Judgement, no source."""


@dataclass(frozen=True, slots=True)
class LeftOff:
    """The last thing that was said on a visit, as a sentence, and the place on the card where one goes on."""

    said: Markup
    anchor: str


def ago_in_words(page: Page, ago: timedelta) -> str:
    """How long ago, in the largest fitting unit."""
    minutes = int(ago.total_seconds() // 60)
    if minutes < 60:
        return page.speaker.text("web.minutes_ago", count=minutes)
    if minutes < 48 * 60:
        return page.speaker.text("web.hours_ago", count=minutes // 60)
    return page.speaker.text("web.days_ago", count=minutes // 1440)


def left_off(page: Page, case: Case) -> LeftOff | None:
    """Where an open visit was left off; None while somebody is at it, or where nothing was said yet."""
    visit = case.visit
    if visit.closed_at is not None:
        return None
    last = max(_said(visit), key=lambda each: (each[0], each[1].id), default=None)
    if last is None or page.now - last[0] < INTERRUPTED:
        return None
    at, noun = last
    what, anchor = _place(page, noun)
    author = _author(page, noun.id) or visit.technician
    ago = ago_in_words(page, page.now - at)
    key = "web.left_off" if author else "web.left_off_nobody"
    return LeftOff(page.text(key, who=author, what=what, ago=ago), anchor)


def _author(page: Page, entry_id: str) -> str:
    """Who entered it; "" for what stands in no book of this shop."""
    try:
        return str(page.book.entry(entry_id).author)
    except NotFound:
        return ""


def _said(visit: Visit) -> Iterator[tuple[datetime, Said]]:
    """All that was said on the visit, each with when it was."""
    yield from ((each.at, each) for each in visit.steps if each.step != PROCEDURE)
    yield from ((each.at, each) for each in visit.events)
    yield from ((each.taken_at, each) for each in visit.photos)
    for reading in visit.readings:
        at = reading.entered_at or reading.taken_at
        if at is not None:
            yield at, reading


def _place(page: Page, noun: Said) -> tuple[str, str]:
    """What was said, in a few words or where they stand, and where it stands on the card."""
    match noun:
        case StepDone():
            title = f"step.{noun.step}.title"
            return f"@{title}" if page.speaker.has(title) else noun.step, f"#task-{noun.step}"
        case Reading():
            return f"@reading.{noun.key}", f"#f-{_slot(noun).id}"
        case Event():
            return f"@web_event_past.{noun.kind.name.lower()}", "#step-work"
        case Photo():
            return page.speaker.text("web.photo_at", clock=noun.taken_at), (
                f"#task-{noun.step}" if noun.step else "#photos"
            )


def _slot(reading: Reading) -> Slot:
    """Where it stands on the card: one of several lights in the field of all of them."""
    own = Slot(reading.key, reading.stage, reading.set_number)
    return own if any(own in step.slots for step in STEPS) else Slot(reading.key, reading.stage)

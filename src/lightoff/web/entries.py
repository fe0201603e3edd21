"""The one door through which a bay's readings come: entries, sent as often as need be, kept once."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter
from pydantic import AwareDatetime, BaseModel, ConfigDict, Field
from starlette.requests import Request

from lightoff.ground.errors import LightoffError
from lightoff.records import Kept
from lightoff.terms.entry import Entry
from lightoff.web.faults import sentences_of
from lightoff.web.page import Page
from lightoff.work.keep_entries import keep_entries as kept

rooms = APIRouter(tags=["entries"])
MOST_ENTRIES = 500
Identity = Annotated[str, Field(min_length=1, max_length=64)]


class EntryIn(BaseModel):
    """One line for the book. Numbers inside `value` are text, as typed; `at` carries its time zone."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, frozen=True)

    id: Identity
    subject: Identity
    field: Annotated[str, Field(max_length=40)]
    value: Any = None
    author: Annotated[str, Field(max_length=200)] = ""
    at: AwareDatetime
    corrects: Identity | None = None

    def entry(self) -> Entry:
        """The line as the book knows it."""
        return Entry(
            id=self.id,
            subject=self.subject,
            field=self.field,
            value=self.value,
            author=self.author,
            at=self.at,
            corrects=self.corrects,
        )


class KeptOut(BaseModel):
    """What became of one entry: kept, already kept, or refused with the reason."""

    id: str
    outcome: str
    sentence: str = ""
    field: str = ""


class Outcome(BaseModel):
    """What became of each, in the order sent."""

    entries: list[KeptOut]


@rooms.post("/entries")
def keep_entries(
    request: Request, entries: Annotated[list[EntryIn], Field(max_length=MOST_ENTRIES)]
) -> Outcome:
    """Keeps entries; sending one twice keeps it once. A refused one harms none beside it."""
    page = Page.of(request)
    lines = [each.entry() for each in entries]
    answers = kept(page.house.workshop, lines)
    return Outcome(entries=[_told(page, line, answer) for line, answer in zip(lines, answers, strict=True)])


def _told(page: Page, line: Entry, answer: Kept | LightoffError) -> KeptOut:
    if isinstance(answer, Kept):
        return KeptOut(id=answer.id, outcome=answer.outcome)
    said, fields = sentences_of(answer)
    sentence = " ".join(page.speaker.say(each) for each in said)
    return KeptOut(id=line.id, outcome="refused", sentence=sentence, field=next(iter(fields), ""))

"""The one door through which a bay's readings come: entries, sent as often as need be, kept once."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, TypeAdapter
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from lightoff.ground.errors import LightoffError
from lightoff.records import Kept
from lightoff.terms.entry import Entry
from lightoff.web.faults import sentences_of
from lightoff.web.forms import new_id
from lightoff.web.page import Page
from lightoff.web.rooms import Rooms
from lightoff.work.keep_entries import keep_entries as kept
from lightoff.work.start_visit import bring_back_visits

rooms = Rooms()
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


_SENT = TypeAdapter(Annotated[list[EntryIn], Field(max_length=MOST_ENTRIES)])


def entries_sent(body: bytes) -> list[Entry]:
    """The lines in a body of JSON. Raises pydantic.ValidationError."""
    return [each.entry() for each in _SENT.validate_json(body)]


@rooms.post("/entries")
async def keep_entries(request: Request) -> Response:
    """Keeps entries; sending one twice keeps it once. A refused one harms none beside it.

    The answer tells of each, in the order sent: `outcome` kept, already kept, or refused with a sentence.
    """
    lines = entries_sent(await request.body())
    return await run_in_threadpool(_kept, request, lines)


def _kept(request: Request, lines: list[Entry]) -> Response:
    page = Page.of(request)
    answers = kept(page.house.workshop, lines)
    arrived = [line for line, answer in zip(lines, answers, strict=True) if isinstance(answer, Kept)]
    bring_back_visits(page.house.workshop, arrived, page.now, new_id=new_id)
    told = [_told(page, line, answer) for line, answer in zip(lines, answers, strict=True)]
    return JSONResponse({"entries": told})


def _told(page: Page, line: Entry, answer: Kept | LightoffError) -> dict[str, str]:
    if isinstance(answer, Kept):
        return {"id": answer.id, "outcome": answer.outcome, "sentence": "", "field": ""}
    said, fields = sentences_of(answer)
    sentence = " ".join(page.speaker.say(each) for each in said)
    return {
        "id": line.id,
        "outcome": "refused",
        "sentence": sentence,
        "field": next(iter(fields), ""),
    }

"""Plain forms: what was typed stays in the box, and each problem stands at its own."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import field
from datetime import UTC, date, datetime
from os import urandom
from uuid import UUID

from starlette.requests import Request

from lightoff.ground.errors import Refusal, Refusals
from lightoff.ground.ids import RANDOM_BYTES, time_ordered_id
from lightoff.ground.message import message
from lightoff.ground.values import dataclass
from lightoff.records import Book, body_of, in_place_of, noun_of
from lightoff.terms.entry import Entry, Noun

LONGEST_LINE = 200
LONGEST_TEXT = 4_000


def new_id(now: datetime) -> str:
    """A fresh time-ordered id."""
    return time_ordered_id(now, urandom(10))


def entry_of(noun: Noun, named: str, *, subject: str, author: str, at: datetime, id: str = "") -> Entry:  # noqa: A002
    """The entry that says this noun, as the field `named`."""
    return Entry(id=id or new_id(at), subject=subject, field=named, value=body_of(noun), author=author, at=at)


def standing(book: Book, named: str, subject: str) -> str:
    """The entries that a form shows, for a field of it that nobody sees."""
    return " ".join(each.id for each in book.standing(named, subject))


def mended(book: Book, shown: str, said: Entry) -> list[Entry]:
    """The entries that put `said` in the place of those that a form was shown with; none if it is no news.

    What another device entered since stands beside it, in conflict, and is not overwritten unseen.
    """
    now = standing(book, said.field, said.subject)
    corrected = (shown or now).split()
    known = {*corrected[:1], *now.split()[:1]}
    words = noun_of(said.field, said.subject, said.value)
    if any(noun_of(said.field, said.subject, book.entry(each).value) == words for each in known):
        return []
    return list(in_place_of(corrected, said, new_id=lambda: new_id(said.at)))


def id_of_words(page_id: str, *words: str) -> str:
    """The id of what a page was sent with: the same page and words give the same, so that two taps are one.

    "" for a page that brings no id of ours.
    """
    try:
        at = datetime.fromtimestamp((UUID(page_id).int >> 80) / 1000, tz=UTC)
    except (ValueError, OverflowError, OSError):
        return ""
    digest = hashlib.sha256("\x1f".join((page_id, *words)).encode()).digest()
    return time_ordered_id(at, digest[:RANDOM_BYTES])


@dataclass(slots=True)
class Typed:
    """What a form brought, read word by word; problems are gathered, not thrown at the first."""

    values: Mapping[str, str]
    problems: dict[str, Refusal] = field(default_factory=dict)

    @classmethod
    async def of(cls, request: Request) -> Typed:
        """The form of a request; files in it are passed over."""
        form = await request.form(max_files=0, max_fields=200, max_part_size=LONGEST_TEXT * 8)
        return cls({key: value for key, value in form.items() if isinstance(value, str)})

    def line(self, name: str, *, needed: bool = False, longest: int = LONGEST_LINE) -> str:
        """One line of text, trimmed. A needed one that is blank is a problem."""
        text = self.values.get(name, "").strip()
        if needed and not text:
            self.problem(name, "web_error.blank")
        if len(text) > longest:
            self.problem(name, "web_error.long", most=str(longest))
        return text

    def choice(self, name: str, possible: Iterable[str], *, otherwise: str = "") -> str:
        """One of the possible words."""
        text = self.values.get(name, "").strip() or otherwise
        if text not in set(possible):
            self.problem(name, "web_error.choose")
        return text

    def day(self, name: str) -> date | None:
        """A date as 2026-11-25, or None if blank."""
        text = self.values.get(name, "").strip()
        if not text:
            return None
        try:
            return date.fromisoformat(text)
        except ValueError:
            self.problem(name, "web_error.day", typed=text[:40])
            return None

    def identity(self, name: str, now: datetime) -> str:
        """An id that the page was given when it was shown, so that sending twice is keeping once."""
        text = self.values.get(name, "").strip()
        return text if 0 < len(text) <= 64 else new_id(now)

    def moment(self, name: str, now: datetime) -> datetime:
        """The moment at which the page was shown."""
        try:
            at = datetime.fromisoformat(self.values.get(name, ""))
        except ValueError:
            return now
        return at.astimezone(UTC) if at.tzinfo else now

    def problem(self, name: str, key: str, /, **values: str) -> None:
        """Marks a box with a sentence."""
        self.problems.setdefault(name, Refusal(message(key, **values), field=name))

    def gather(self, refusal: Refusal) -> None:
        """Marks the boxes that a lower floor refused."""
        for each in refusal.refusals if isinstance(refusal, Refusals) else (refusal,):
            self.problems.setdefault(each.field or "", each)

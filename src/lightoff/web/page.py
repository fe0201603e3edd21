"""What every page shares: the reader's preferences, the voice, the glyphs, the frame."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime
from functools import cache, lru_cache, partial
from pathlib import Path
from typing import Any, Protocol
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from markupsafe import Markup, escape
from starlette.requests import Request
from starlette.responses import HTMLResponse

from lightoff.ground.message import Message, Value
from lightoff.ground.sources import SOURCES
from lightoff.ground.values import dataclass
from lightoff.terms.people import Shop
from lightoff.terms.visit import Visit
from lightoff.texts import limit_words
from lightoff.texts.speaker import Speaker
from lightoff.web.ahead import Ahead, Drawings
from lightoff.web.compiled import CompiledTemplates, Templates
from lightoff.web.preferences import Preferences
from lightoff.web.static_files import static
from lightoff.work.last_few import LastFew

MARKS = "marks.html"
# Formulas are written with subscript digits in texts; the page sets them as real subscripts.
_SUBSCRIPTS = str.maketrans("₀₁₂₃₄₅₆₇₈₉", "0123456789")
_SUBSCRIPT_RUN = re.compile("[₀-₉]+")
_SHAPES = {
    "fit as tested": '<circle cx="8" cy="8" r="7"/>',
    "within limits": '<circle cx="8" cy="8" r="7"/>',
    "not fit": '<path d="M8 1 15.5 14.5H.5Z"/>',
    "outside limits": '<path d="M8 1 15.5 14.5H.5Z"/>',
    "not proven": '<rect x="2" y="2" width="12" height="12" fill="none" stroke="currentColor" stroke-width="2.6"/>',
    "stop": '<path d="M5 .5h6L15.5 5v6L11 15.5H5L.5 11V5Z"/>',
    "open": '<circle cx="8" cy="8" r="6.4" fill="none" stroke="currentColor" stroke-width="2" stroke-dasharray="3 2.4"/>',
}


class Workshop(Protocol):
    """The book and the shelf that the pages work on."""

    @property
    def book(self) -> Any:
        """The records."""

    @property
    def shelf(self) -> Any:
        """Limits, catalogue, fuels, sheets."""


@dataclass(frozen=True, slots=True, kw_only=True)
class House:
    """What one running app holds."""

    workshop: Any
    now: Callable[[], datetime]
    environment: Environment
    ahead: Ahead | None = None


def subscripted(text: str) -> Markup:
    """Text with its subscript digits as real subscripts, everything else escaped."""
    whole = escape(text)
    if whole.isascii() or _SUBSCRIPT_RUN.search(whole) is None:
        return whole
    return Markup(_SUBSCRIPT_RUN.sub(lambda run: f"<sub>{run[0].translate(_SUBSCRIPTS)}</sub>", str(whole)))


@cache
def glyph(state: str) -> Markup:
    """The shape of a judgement or verdict: disc, triangle, open square, octagon."""
    shape = Markup(_SHAPES.get(str(state), _SHAPES["not proven"]))
    return Markup(
        '<svg class="glyph" viewBox="0 0 16 16" aria-hidden="true" fill="currentColor">{}</svg>'
    ).format(shape)


def spoken(speaker: Speaker, said: Message) -> Markup:
    """A sentence for the page: numbers bold, units light, states with their shape."""
    if not said.values:
        return _spoken(speaker, said)
    # By what is written in it: 5.0 and 5.00 are equal, and stand on the page as they were typed.
    return _sentences.of((speaker, *speaker.own.items(), repr(said)), partial(_spoken, speaker, said))


# Most gates and cautions say the same of one visit and the next.
_sentences: LastFew[Markup] = LastFew(4096)


def _spoken(speaker: Speaker, said: Message) -> Markup:
    pieces = []
    for part in speaker.parts(said):
        words = subscripted(part.text)
        match part.kind:
            case "number":
                pieces.append(f"<b>{words}</b>")
            case "unit":
                pieces.append(f'<span class="unit">{words}</span>')
            case "state":
                shape = glyph(_states(speaker.language).get(part.text, "not proven"))
                pieces.append(f'<span class="state">{shape}{escape(part.text)}</span>')
            case _:
                pieces.append(words)
    return Markup("".join(pieces))


_BLANKS = re.compile(r"[ \t]{2,}|\n\s+")


def closed_up(drawn: str) -> str:
    """What was drawn with each run of blanks as one: a page shows it as one anyway."""
    return _BLANKS.sub(lambda found: found[0][0], drawn)


@cache
def _states(language: str) -> Mapping[str, str]:
    """Every state by the word that says it."""
    speaker = Speaker(language=language)
    return {
        speaker.text(f"{kind}.{state}"): state
        for kind, group in (
            ("verdict", ("stop", "not fit", "not proven", "fit as tested")),
            ("verdict_word", ("stop", "not fit", "not proven", "fit as tested")),
            ("judgement", ("stop", "outside limits", "not proven", "within limits")),
        )
        for state in group
    }


def told(speaker: Speaker, key: str, /, **values: Value) -> Markup:
    """A text of the pages, filled, subscripts set."""
    if values or key in speaker.own:
        return subscripted(speaker.text(key, **values))
    return _unfilled(speaker.language, key)


@lru_cache(maxsize=4096)
def _unfilled(language: str, key: str) -> Markup:
    """A text that has nothing to fill: the same in every system of units and at every clock."""
    return subscripted(Speaker(language=language).text(key))


def told_or(speaker: Speaker, key: str, otherwise: str) -> Markup:
    """A text if the language has it, else the words given."""
    return told(speaker, key) if speaker.has(key) else subscripted(otherwise)


def voice(speaker: Speaker) -> dict[str, Any]:
    """What every template can say, under the names it says it by."""
    return {
        "t": partial(told, speaker),
        "t_or": partial(told_or, speaker),
        "say": partial(spoken, speaker),
        "limit_words": partial(limit_words, speaker=speaker),
        "speaker": speaker,
    }


def capped(text: Markup) -> Markup:
    """The text with its first letter as a capital, the rest as it is."""
    return text[:1].upper() + text[1:]


def source_words(key: str) -> str:
    """Where a number is from: a known source by its title, edition and place, else the words given."""
    known = SOURCES.get(key)
    return key if known is None else ", ".join(filter(None, (known.title, known.edition, known.place)))


def unprintable_letters(text: str) -> str:
    """The letters of a text that the report cannot print, each once; "" for most of what is typed."""
    if str(text).isascii():
        return ""
    from lightoff.report.letters import unprintable  # slow to import, and few names need it

    return unprintable(str(text))


def environment() -> Environment:
    """The templates: autoescaped, and strict about what they name."""
    made = Templates(
        loader=PackageLoader("lightoff.web"),
        autoescape=select_autoescape(default=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        bytecode_cache=CompiledTemplates(Path(__file__).parent / "templates"),
        auto_reload=False,  # an update comes with a new start; asking the disk at every piece costs much
    )
    made.globals.update(glyph=glyph, static=static)
    made.filters.update(
        source=source_words, sub=subscripted, capped=capped, path=lambda text: quote(str(text), safe="")
    )
    made.filters["unprintable"] = unprintable_letters
    return made


@lru_cache(maxsize=64)
def pieces(environment: Environment, template: str, speaker: Speaker) -> Any:
    """The macros of a template, made once for each reader: each page's own would be a heap of garbage."""
    marks = {} if template == MARKS else {"marks": pieces(environment, MARKS, speaker)}
    return environment.get_template(template).make_module(voice(speaker) | marks)


@dataclass(frozen=True, slots=True)
class Page:
    """One answer in the making: who reads, how, and what shop it is."""

    request: Request
    house: House
    shop: Shop
    preferences: Preferences
    speaker: Speaker

    @classmethod
    def of(cls, request: Request) -> Page:
        """The page for this request."""
        house: House = request.app.state.house
        shop = house.workshop.book.shop()
        preferences = Preferences.of(request.cookies, shop_units=shop.units)
        speaker = Speaker(
            language=shop.language,
            units=preferences.units,
            zone=preferences.zone,
            own=house.workshop.shelf.own_words,
        )
        return cls(request, house, shop, preferences, speaker)

    def by_clock_of(self, visit: Visit) -> Page:
        """The same, told by the clock where the visit was: a record has one day, whoever reads it where."""
        return replace(self, speaker=replace(self.speaker, zone=visit.clock or self.speaker.zone))

    @property
    def utc_offset_minutes(self) -> int | None:
        """How far the reader's clock is ahead of UTC now."""
        ahead = self.preferences.zone.utcoffset(self.now)
        return None if ahead is None else round(ahead.total_seconds() / 60.0)

    @property
    def book(self) -> Any:
        """The records."""
        return self.house.workshop.book

    @property
    def shelf(self) -> Any:
        """Limits, catalogue, fuels, sheets."""
        return self.house.workshop.shelf

    @property
    def now(self) -> datetime:
        """The time, from the clock the app was given."""
        return self.house.now()

    def asked(self, name: str) -> str:
        """What the address asks for under a name; "" for nothing."""
        return str(self.request.query_params.get(name, ""))

    def text(self, key: str, /, **values: Value) -> Markup:
        """A text of the pages, filled, subscripts set."""
        return told(self.speaker, key, **values)

    def text_or(self, key: str, otherwise: str) -> Markup:
        """A text if the language has it, else the words given."""
        return told_or(self.speaker, key, otherwise)

    def part(self, template: str, /, **context: Any) -> Markup:
        """A piece of a page."""
        made = self.house.environment.get_template(template)
        return Markup(made.render(**self._frame(), **context))

    def show(self, template: str, /, *, status: int = 200, **context: Any) -> HTMLResponse:
        """The whole page."""
        return HTMLResponse(str(self.part(template, **context)), status_code=status)

    def draw_ahead(self, near: Drawings, far: Drawings = tuple) -> None:
        """What is opened from this page is drawn while nobody asks, the first time that it is shown."""
        if self.house.ahead is not None:
            url = self.request.url
            self.house.ahead.begin(f"{url.path}?{url.query}", near, far)

    def work_ahead(self, name: str, near: Drawings) -> None:
        """Work these out while nobody asks, once in a program under this name."""
        if self.house.ahead is not None:
            self.house.ahead.begin(name, near)

    def _frame(self) -> dict[str, Any]:
        return {
            **voice(self.speaker),
            "marks": pieces(self.house.environment, MARKS, self.speaker),
            "shop": self.shop,
            "preferences": self.preferences,
            "here": self.request.url.path,
        }

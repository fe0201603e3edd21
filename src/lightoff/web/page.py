"""What every page shares: the reader's preferences, the voice, the glyphs, the frame."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from importlib.resources import files
from typing import Any, Protocol
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from markupsafe import Markup, escape
from starlette.requests import Request
from starlette.responses import HTMLResponse

from lightoff.ground.message import Message, Value
from lightoff.terms.people import Shop
from lightoff.texts.speaker import Speaker
from lightoff.web.preferences import Preferences

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


def subscripted(text: str) -> Markup:
    """Text with its subscript digits as real subscripts, everything else escaped."""
    out = Markup()
    end = 0
    for run in _SUBSCRIPT_RUN.finditer(text):
        out += escape(text[end : run.start()])
        out += Markup("<sub>{}</sub>").format(run[0].translate(_SUBSCRIPTS))
        end = run.end()
    return out + escape(text[end:])


def glyph(state: str) -> Markup:
    """The shape of a judgement or verdict: disc, triangle, open square, octagon."""
    shape = Markup(_SHAPES.get(str(state), _SHAPES["not proven"]))
    return Markup(
        '<svg class="glyph" viewBox="0 0 16 16" aria-hidden="true" fill="currentColor">{}</svg>'
    ).format(shape)


def spoken(speaker: Speaker, said: Message) -> Markup:
    """A sentence for the page: numbers bold, units light, states with their shape."""
    states = {
        speaker.text(f"{kind}.{state}"): state
        for kind, group in (
            ("verdict", ("stop", "not fit", "not proven", "fit as tested")),
            ("judgement", ("stop", "outside limits", "not proven", "within limits")),
        )
        for state in group
    }
    out = Markup()
    for part in speaker.parts(said):
        match part.kind:
            case "number":
                out += Markup("<b>{}</b>").format(subscripted(part.text))
            case "unit":
                out += Markup('<span class="unit">{}</span>').format(subscripted(part.text))
            case "state":
                shape = glyph(states.get(part.text, "not proven"))
                out += Markup('<span class="state">{}{}</span>').format(shape, part.text)
            case _:
                out += subscripted(part.text)
    return out


def capped(text: Markup) -> Markup:
    """The text with its first letter as a capital, the rest as it is."""
    return text[:1].upper() + text[1:]


@cache
def static_hash(path: str) -> str:
    """A short hash of a static file, so that an update is fetched and nothing else is."""
    data = files("lightoff.web").joinpath("static", *path.split("/")).read_bytes()
    return hashlib.sha256(data).hexdigest()[:12]


def static(path: str) -> str:
    """The address of a static file."""
    return f"/static/{path}?{static_hash(path)}"


def environment() -> Environment:
    """The templates: autoescaped, and strict about what they name."""
    made = Environment(
        loader=PackageLoader("lightoff.web"),
        autoescape=select_autoescape(default=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals.update(glyph=glyph, static=static)
    made.filters.update(sub=subscripted, capped=capped, path=lambda text: quote(str(text), safe=""))
    return made


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
        speaker = Speaker(language=shop.language, units=preferences.units, zone=preferences.zone)
        return cls(request, house, shop, preferences, speaker)

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

    def text(self, key: str, /, **values: Value) -> Markup:
        """A text of the pages, filled, subscripts set."""
        return subscripted(self.speaker.text(key, **values))

    def text_or(self, key: str, otherwise: str) -> Markup:
        """A text if the language has it, else the words given."""
        return subscripted(self.speaker.text(key) if self.speaker.has(key) else otherwise)

    def part(self, template: str, /, **context: Any) -> Markup:
        """A piece of a page."""
        made = self.house.environment.get_template(template)
        return Markup(made.render(**self._frame(), **context))

    def show(self, template: str, /, *, status: int = 200, **context: Any) -> HTMLResponse:
        """The whole page."""
        return HTMLResponse(str(self.part(template, **context)), status_code=status)

    def _frame(self) -> dict[str, Any]:
        return {
            "t": self.text,
            "t_or": self.text_or,
            "say": lambda said: spoken(self.speaker, said),
            "speaker": self.speaker,
            "shop": self.shop,
            "preferences": self.preferences,
            "here": self.request.url.path,
        }

"""Errors as pages: a sentence that says what, where and what to do; never a traceback."""

from __future__ import annotations

import logging

from pydantic import ValidationError
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.types import Scope

from lightoff.ground.errors import Doubtful, LightoffError, NotFound, Refusal, Refusals, WouldOverwrite
from lightoff.ground.message import Message, message
from lightoff.terms.people import Shop
from lightoff.texts.speaker import Speaker
from lightoff.web.guard import Refuse, Turned
from lightoff.web.page import House, Page
from lightoff.web.preferences import Preferences

_log = logging.getLogger("lightoff.web")
_STATUS: tuple[tuple[type[LightoffError], int], ...] = (
    (NotFound, 404),
    (WouldOverwrite, 409),
    (Doubtful, 409),  # it may come again with the word that it is meant
    (Refusal, 422),
)


def wants_data(request: Request) -> bool:
    """Whether the one who asks is our capture script or a program."""
    return "text/html" not in request.headers.get("accept", "*/*") or request.method in {"PUT", "PATCH"}


def told(
    request: Request, status: int, said: tuple[Message, ...], *, fields: tuple[str, ...] = ()
) -> Response:
    """The sentences as a page, or as data for a script."""
    page = _page(request)
    sentences = [page.speaker.say(each) for each in said]
    if wants_data(request):
        problems = [
            {"field": field, "sentence": sentence}
            for field, sentence in zip((*fields, *([""] * len(sentences))), sentences, strict=False)
        ]
        return JSONResponse({"problem": " ".join(sentences), "problems": problems}, status_code=status)
    return page.show("problem.html", status=status, sentences=sentences, code=status)


def _page(request: Request) -> Page:
    """The page of a fault: works even when the book itself is at fault."""
    try:
        return Page.of(request)
    except Exception:  # noqa: BLE001 - a page of a fault must never fail itself; it is logged
        _log.exception("the shop's own settings could not be read")
        house: House = request.app.state.house
        preferences = Preferences.of(request.cookies, shop_units="metric")
        return Page(request, house, Shop(), preferences, Speaker(zone=preferences.zone))


def sentences_of(error: LightoffError) -> tuple[tuple[Message, ...], tuple[str, ...]]:
    """Every sentence of an error with the field it belongs to."""
    if isinstance(error, Refusals):
        return tuple(each.message for each in error.refusals), tuple(
            each.field or "" for each in error.refusals
        )
    return (error.message,), (getattr(error, "field", None) or "",)


class RefusePlainly(Refuse):
    """Tells a turned-away request why, without touching the book."""

    def __call__(self, scope: Scope, turned: Turned) -> Response:
        """The sentence, as plain text: no page of ours is owed to a stranger."""
        sentence = Speaker().text(turned.key, **turned.values)
        if scope["path"].startswith(("/entries", "/photos")):
            return JSONResponse({"problem": sentence, "problems": []}, status_code=turned.status)
        return Response(sentence + "\n", status_code=turned.status, media_type="text/plain; charset=utf-8")


def watch(app: Starlette) -> None:
    """Gives the app its answers to everything that goes wrong."""

    async def on_lightoff(request: Request, error: Exception) -> Response:
        assert isinstance(error, LightoffError)
        status = next((code for kind, code in _STATUS if isinstance(error, kind)), 422)
        said, fields = sentences_of(error)
        return told(request, status, said, fields=fields)

    async def on_http(request: Request, error: Exception) -> Response:
        assert isinstance(error, HTTPException)
        key = {404: "web_error.not_found", 405: "web_error.method"}.get(error.status_code, "web_error.other")
        return told(request, error.status_code, (message(key, path=request.url.path[:200]),))

    async def on_shape(request: Request, error: Exception) -> Response:
        assert isinstance(error, ValidationError)
        first = error.errors()[0]
        where = ".".join(str(each) for each in first["loc"]) or "body"
        said = message("web_error.shape", where=where[:100], what=str(first["msg"])[:200])
        return told(request, 422, (said,), fields=(where,))

    async def on_crash(request: Request, error: Exception) -> Response:
        _log.error("a page failed: %s %s", request.method, request.url.path, exc_info=error)
        return told(request, 500, (message("web_error.crash"),))

    app.add_exception_handler(LightoffError, on_lightoff)
    app.add_exception_handler(HTTPException, on_http)
    app.add_exception_handler(ValidationError, on_shape)
    app.add_exception_handler(Exception, on_crash)

"""Addresses of a module of pages, each with the function that answers there."""

from __future__ import annotations

from collections.abc import Callable
from inspect import iscoroutinefunction
from typing import Any, TypeVar

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

Answering = TypeVar("Answering", bound=Callable[..., Any])


class Rooms:
    """The routes of one module.

    A function that answers gets the request and the named pieces of its address. One that is not `async`
    runs in a thread of its own, so that a page that takes long holds up no other.
    """

    def __init__(self) -> None:
        self.routes: list[Route] = []

    def get(self, path: str) -> Callable[[Answering], Answering]:
        """Answers questions at an address."""
        return self._at(path, "GET")

    def post(self, path: str) -> Callable[[Answering], Answering]:
        """Takes what is sent to an address."""
        return self._at(path, "POST")

    def _at(self, path: str, method: str) -> Callable[[Answering], Answering]:
        def noted(answer: Answering) -> Answering:
            called = _called(_at_one_moment(answer) if method == "GET" else answer)
            self.routes.append(Route(path, called, methods=[method]))
            return answer

        return noted


def _at_one_moment(answer: Callable[..., Response]) -> Callable[..., Response]:
    """A page shows the book as it is at one moment, read by one connection, or as it was drawn ahead."""

    def shown(request: Request, **named: str) -> Response:
        house = request.app.state.house
        with house.workshop.book.at_one_moment():
            drawn: Response | None = house.ahead.drawn(request) if house.ahead else None
            return drawn or answer(request, **named)

    return shown


def _called(answer: Callable[..., Any]) -> Callable[[Request], Any]:
    """The function as the router calls it."""
    if iscoroutinefunction(answer):

        async def awaited(request: Request) -> Response:
            found: Response = await answer(request, **request.path_params)
            return found

        return awaited

    def plain(request: Request) -> Response:
        found: Response = answer(request, **request.path_params)
        return found

    return plain

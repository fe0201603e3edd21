"""Pages drawn ahead while nobody asks, so that who opens one finds it drawn, or what it shows worked out."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Hashable, Iterable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from functools import partial
from threading import Event, Lock, Thread, current_thread

from starlette.requests import Request
from starlette.responses import Response

from lightoff.ground.values import dataclass

KEPT_FOR, MOST_KEPT = timedelta(minutes=1), 64
"""How old a page may be that is shown as it was drawn ahead, and how many of them are held."""
_LOOK_AGAIN_S = 0.1
Drawings = Callable[[], Iterable[Callable[[], object]]]
_log = logging.getLogger("lightoff.web")


@dataclass(frozen=True, slots=True)
class Drawn:
    """A page as it was drawn ahead, when, of which shelf and what was said, and what is begun from it."""

    response: Response
    at: datetime
    shelf: object
    said: str
    led_to: tuple[Callable[[], None], ...]


class Ahead:
    """Draws one page after the other on a thread of its own, while nothing is asked.

    What is likely to be opened next is drawn after `quiet_s`, and of that what was begun last: it is nearest
    to where somebody looks. The rest waits till nobody has asked for `long_quiet_s`: a page that is asked for
    while another is drawn takes longer. What is near is shown as it was drawn, while nothing was said since;
    of the rest only what was worked out for it serves.
    """

    def __init__(self, quiet_s: float, long_quiet_s: float) -> None:
        self._quiet_s = {"near": quiet_s, "far": long_quiet_s}
        self._answering, self._answered_at_s = 0, time.monotonic()
        self._ended = Event()
        self._lock = Lock()
        self._begun: set[str] = set()
        self._waiting: dict[str, list[Iterator[Callable[[], object]]]] = {"near": [], "far": []}
        self._which = "near"
        self._drawn: dict[Hashable, Drawn] = {}
        self._led_to: list[Callable[[], None]] = []
        self._thread: Thread | None = None

    @contextmanager
    def answering(self) -> Iterator[None]:
        """Somebody's page is under way: what is drawn ahead waits, and a while longer."""
        self._answering += 1
        try:
            yield
        finally:
            self._answering -= 1
            self._answered_at_s = time.monotonic()

    def begin(self, name: str, near: Drawings, far: Drawings = tuple) -> None:
        """Draw these, once in a program under this name; what fails is told to who opens the page itself.

        A page that is itself drawn ahead begins nothing before somebody opens it.
        """
        with self._lock:
            if name in self._begun:
                return
            if current_thread() is self._thread:
                self._led_to.append(partial(self.begin, name, near, far))
                return
            self._begun.add(name)
            self._waiting["near"].append(_lazily(near))
            self._waiting["far"].append(_lazily(far))
            if self._thread is None:
                self._thread = Thread(target=self._draw, name="ahead", daemon=True)
                self._thread.start()

    def page(
        self, request: Request, path: str, answer: Callable[[Request, str], Response], of: str
    ) -> Callable[[], object]:
        """The page of something at another path, to be drawn for the reader who asks now."""
        there = {"path": path, "raw_path": path.encode(), "query_string": b"", "path_params": {"id": of}}
        return partial(self._draw_page, Request({**request.scope, **there}), answer, of)

    def drawn(self, request: Request) -> Response | None:
        """The page asked for, if it was drawn ahead and nothing was said since; at one moment of the book."""
        drawn, house = self._drawn.get(_asked(request)), request.app.state.house
        if (
            drawn is None
            or not timedelta(0) <= house.now() - drawn.at <= KEPT_FOR
            or drawn.shelf is not house.workshop.shelf
            or drawn.said != house.workshop.book.said_so_far()
        ):
            return None
        for begin in drawn.led_to:
            begin()
        return drawn.response

    def _draw_page(self, request: Request, answer: Callable[[Request, str], Response], of: str) -> None:
        house = request.app.state.house
        self._led_to.clear()
        with house.workshop.book.at_one_moment():
            at, shelf, said = house.now(), house.workshop.shelf, house.workshop.book.said_so_far()
            response = answer(request, of)
        if self._which == "near":
            self._drawn.pop(_asked(request), None)
            self._drawn[_asked(request)] = Drawn(response, at, shelf, said, tuple(self._led_to))
            while len(self._drawn) > MOST_KEPT:
                del self._drawn[next(iter(self._drawn))]

    @property
    def is_done(self) -> bool:
        """Whether all that was begun is drawn."""
        with self._lock:
            return bool(self._begun) and self._thread is None

    def end(self, patience_s: float = 2.0) -> None:
        """Draw no more; returns when the page under way is done, or when patience is."""
        self._ended.set()
        thread = self._thread
        if thread is not None:
            thread.join(patience_s)

    def _draw(self) -> None:
        while not self._ended.is_set():
            with self._lock:
                self._which = which = "near" if self._waiting["near"] else "far"
                if not self._waiting[which]:
                    self._thread = None
                    return
                latest = self._waiting[which][-1]
            if (left_s := self._left_s(self._quiet_s[which])) > 0.0:
                self._ended.wait(min(left_s, _LOOK_AGAIN_S))  # something nearer may be begun meanwhile
                continue
            try:
                draw = next(latest, None)
                if draw is not None:
                    draw()
                else:
                    with self._lock:
                        self._waiting[which].remove(latest)
            except Exception:  # noqa: BLE001 who opens the page itself is told what ails it
                _log.debug("a page was not drawn ahead", exc_info=True)

    def _left_s(self, quiet_s: float) -> float:
        """How long it must still be quiet."""
        if self._answering:
            return max(quiet_s, 0.01)
        return self._answered_at_s + quiet_s - time.monotonic()


def _lazily(drawings: Drawings) -> Iterator[Callable[[], object]]:
    """What there is to draw is looked up when its turn comes, on the thread that draws."""
    yield from drawings()


def _asked(request: Request) -> Hashable:
    """What a page is drawn from besides book, shelf and clock: its address and how this reader reads.

    Which heater this browser had open last stands on the list alone, which is never drawn ahead.
    """
    cookies = {name: value for name, value in request.cookies.items() if name != "lightoff_last"}
    return str(request.url), frozenset(cookies.items())

"""Pages drawn ahead while nobody asks, so that who opens one finds worked out what it shows."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from threading import Event, Lock, Thread, current_thread

Drawings = Callable[[], Iterable[Callable[[], object]]]
_log = logging.getLogger("lightoff.web")


class Ahead:
    """Draws one page after the other on a thread of its own, after `quiet_s` in which nothing was asked.

    What was begun last is drawn first: it is nearest to where somebody looks.
    """

    def __init__(self, quiet_s: float) -> None:
        self._quiet_s = quiet_s
        self._answering, self._answered_at_s = 0, time.monotonic()
        self._ended = Event()
        self._lock = Lock()
        self._begun: set[str] = set()
        self._waiting: list[Iterator[Callable[[], object]]] = []
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

    def begin(self, name: str, drawings: Drawings) -> None:
        """Draw these, once in a program under this name; what fails is told to who opens the page itself.

        A page that is itself drawn ahead begins nothing.
        """
        with self._lock:
            if name in self._begun or current_thread() is self._thread:
                return
            self._begun.add(name)
            self._waiting.append(_lazily(drawings))
            if self._thread is None:
                self._thread = Thread(target=self._draw, name="ahead", daemon=True)
                self._thread.start()

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
        while True:
            while (left_s := self._left_s()) > 0.0:
                if self._ended.wait(left_s):
                    return
            with self._lock:
                if self._ended.is_set() or not self._waiting:
                    self._thread = None
                    return
                latest = self._waiting[-1]
            try:
                draw = next(latest, None)
                if draw is not None:
                    draw()
                else:
                    with self._lock:
                        self._waiting.remove(latest)
            except Exception:  # noqa: BLE001 who opens the page itself is told what ails it
                _log.debug("a page was not drawn ahead", exc_info=True)

    def _left_s(self) -> float:
        """How long it must still be quiet."""
        if self._answering:
            return max(self._quiet_s, 0.01)
        return self._answered_at_s + self._quiet_s - time.monotonic()


def _lazily(drawings: Drawings) -> Iterator[Callable[[], object]]:
    """What there is to draw is looked up when its turn comes, on the thread that draws."""
    yield from drawings()

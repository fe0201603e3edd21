"""Pages drawn ahead while nobody asks, so that who opens one finds worked out what it shows."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from threading import Event, Thread

_log = logging.getLogger("lightoff.web")


class Ahead:
    """Draws one page after the other on a thread of its own, after `quiet_s` in which nothing was asked."""

    def __init__(self, quiet_s: float) -> None:
        self._quiet_s = quiet_s
        self._answering, self._answered_at_s = 0, time.monotonic()
        self._ended = Event()
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

    def begin(self, drawings: Callable[[], Iterable[Callable[[], object]]]) -> None:
        """Draw these, once in a program; what fails is told to who opens the page itself."""
        if self._thread is None:
            self._thread = Thread(target=self._draw, args=(drawings,), name="ahead", daemon=True)
            self._thread.start()

    @property
    def is_done(self) -> bool:
        """Whether all that was begun is drawn."""
        return self._thread is not None and not self._thread.is_alive()

    def end(self, patience_s: float = 2.0) -> None:
        """Draw no more; returns when the page under way is done, or when patience is."""
        self._ended.set()
        if self._thread is not None:
            self._thread.join(patience_s)

    def _draw(self, drawings: Callable[[], Iterable[Callable[[], object]]]) -> None:
        try:
            for draw in drawings():
                while (left_s := self._left_s()) > 0.0:
                    if self._ended.wait(left_s):
                        return
                if self._ended.is_set():
                    return
                try:
                    draw()
                except Exception:  # noqa: BLE001 who opens the page itself is told what ails it
                    _log.debug("a page was not drawn ahead", exc_info=True)
        except Exception:  # noqa: BLE001 the same
            _log.debug("not all was drawn ahead", exc_info=True)

    def _left_s(self) -> float:
        """How long it must still be quiet."""
        if self._answering:
            return max(self._quiet_s, 0.01)
        return self._answered_at_s + self._quiet_s - time.monotonic()

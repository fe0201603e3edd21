"""Pages drawn ahead while nobody asks, so that who opens one finds worked out what it shows."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from threading import Event, Lock, Thread, current_thread

_LOOK_AGAIN_S = 0.1
Drawings = Callable[[], Iterable[Callable[[], object]]]
_log = logging.getLogger("lightoff.web")


class Ahead:
    """Draws one page after the other on a thread of its own, while nothing is asked.

    What is likely to be opened next is drawn after `quiet_s`, and of that what was begun last: it is nearest
    to where somebody looks. The rest waits till nobody has asked for `long_quiet_s`: a page that is asked for
    while another is drawn takes longer.
    """

    def __init__(self, quiet_s: float, long_quiet_s: float) -> None:
        self._quiet_s = {"near": quiet_s, "far": long_quiet_s}
        self._answering, self._answered_at_s = 0, time.monotonic()
        self._ended = Event()
        self._lock = Lock()
        self._begun: set[str] = set()
        self._waiting: dict[str, list[Iterator[Callable[[], object]]]] = {"near": [], "far": []}
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

        A page that is itself drawn ahead begins nothing.
        """
        with self._lock:
            if name in self._begun or current_thread() is self._thread:
                return
            self._begun.add(name)
            self._waiting["near"].append(_lazily(near))
            self._waiting["far"].append(_lazily(far))
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
        while not self._ended.is_set():
            with self._lock:
                which = "near" if self._waiting["near"] else "far"
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

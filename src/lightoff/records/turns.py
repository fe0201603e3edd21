"""Taking turns at writing one file, between the threads of a program and between programs.

SQLite lets one connection write at a time by itself, yet up to 3.51.2 two connections that write and
carry the log back at the same instant can corrupt the file. So a turn lasts from before a transaction
until after its commit, which carries the log back.
"""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Lock

from lightoff.ground.message import message
from lightoff.records.trouble import BookTrouble

try:
    import fcntl
except ImportError:  # Windows: SQLite's own lock has to do between programs
    fcntl = None  # type: ignore[assignment]

PATIENCE_S = 10.0
_LOOK_AGAIN_S = 0.005


class Turns:
    """Hands out turns at writing. `path` is the book's file, None for a server that orders its writers.

    Between programs the lock lies on the book's folder: closing the file itself, opened once more, would
    drop SQLite's own locks on it.
    """

    def __init__(self, path: Path | None, name: str) -> None:
        self._folder = path.parent if path and fcntl else None
        self._name = name
        self._threads = Lock()

    @contextmanager
    def turn(self) -> Iterator[None]:
        """Wait for a turn and hold it. Raises BookTrouble when another program does not let go."""
        with self._threads:
            if self._folder is None:
                yield
                return
            descriptor = os.open(self._folder, os.O_RDONLY | os.O_CLOEXEC)
            try:
                self._wait(descriptor)
                yield
            finally:
                os.close(descriptor)  # lets go of the lock; so does the system when the program dies

    def _wait(self, descriptor: int) -> None:
        give_up_at = time.monotonic() + PATIENCE_S
        while True:
            try:
                fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                if time.monotonic() > give_up_at:
                    raise BookTrouble(message("records.locked", book=self._name)) from None
                time.sleep(_LOOK_AGAIN_S)
            else:
                return

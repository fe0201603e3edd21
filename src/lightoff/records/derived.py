"""What was worked out before, in a file of its own beside the book.

Nothing in it is a record: each answer lies under a hash of all that it was worked out from, and the file may
be deleted at any time. An answer that cannot be read for whatever reason is worked out anew, and a disk
that takes none is no fault of the page that asked.
"""

from __future__ import annotations

import hashlib
import logging
import sqlite3
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from threading import Lock
from typing import Any

import numpy as np

import lightoff
from lightoff.records.freezing import NotOurs, frozen, thawed

MOST = 20_000
"""Answers kept; beyond it the oldest go. A judgement takes some ten kilobytes, a small photograph some
hundred. Judgement, no source."""
_WAIT_S = 0.2
_ASKED_AT_ONCE = 200
_TABLE = (
    "CREATE TABLE IF NOT EXISTS derived (number INTEGER PRIMARY KEY, key TEXT UNIQUE, body BLOB, sum BLOB)"
)
_log = logging.getLogger("lightoff.records")


class Derived:
    """Frozen nouns by the hash of what they were worked out from; for many threads."""

    def __init__(self, path: Path | None, *, most: int = MOST) -> None:
        self._path, self._most, self._lock = path, most, Lock()
        self._connection: sqlite3.Connection | None = None

    def find(self, keys: Sequence[str]) -> dict[str, Any]:
        """The answers that are there, by key."""
        found: dict[str, Any] = {}
        for at in range(0, len(keys), _ASKED_AT_ONCE):
            some = keys[at : at + _ASKED_AT_ONCE]
            marks = ",".join("?" * len(some))
            rows = self._ask(f"SELECT key, body, sum FROM derived WHERE key IN ({marks})", some)
            for key, body, checksum in rows:
                if checksum == _sum(key, body):
                    try:
                        found[key] = thawed(body)
                    except NotOurs as trouble:
                        _log.warning("an answer in %s is not ours: %s", self._path, trouble)
        return found

    def keep(self, answers: Mapping[str, Any]) -> None:
        """Keep answers; those that a key had before give way."""
        bodies = [(key, frozen(answer)) for key, answer in answers.items()]
        rows = [(key, body, _sum(key, body)) for key, body in bodies]
        with self._lock:
            try:
                connection = self._open()
                if connection is None:
                    return
                with connection:
                    connection.executemany(
                        "INSERT OR REPLACE INTO derived (key, body, sum) VALUES (?, ?, ?)", rows
                    )
                    connection.execute(
                        "DELETE FROM derived WHERE number <= (SELECT max(number) FROM derived) - ?",
                        (self._most,),
                    )
            except (sqlite3.Error, OSError) as trouble:
                self._give_up(trouble)

    def close(self) -> None:
        """Close the file."""
        with self._lock:
            if self._connection is not None:
                self._connection.close()
                self._connection = None

    def _ask(self, question: str, values: Sequence[str]) -> list[tuple[str, bytes, bytes]]:
        with self._lock:
            try:
                connection = self._open()
                return [] if connection is None else connection.execute(question, values).fetchall()
            except (sqlite3.Error, OSError) as trouble:
                self._give_up(trouble)
                return []

    def _open(self) -> sqlite3.Connection | None:
        if self._connection is None and self._path is not None:
            self._path.touch(mode=0o600)  # as private as the book
            self._connection = sqlite3.connect(self._path, timeout=_WAIT_S, check_same_thread=False)
            # A power cut may spoil it, which the sums tell: no need to wait for the disk.
            self._connection.execute("PRAGMA journal_mode=WAL")
            self._connection.execute("PRAGMA synchronous=OFF")
            self._connection.execute(_TABLE)
        return self._connection

    def _give_up(self, trouble: Exception) -> None:
        """Do without; a file that another program just writes to will be asked again."""
        if isinstance(trouble, sqlite3.OperationalError) and "locked" in str(trouble):
            return
        _log.warning("%s is not used: %s", self._path, trouble)
        if self._connection is not None:
            self._connection.close()
        self._connection = self._path = None


@cache
def program_hash() -> str:
    """The hash of the program itself: what another one worked out is not what this one would.

    Of the name, length and time of each file of code, and of the version of NumPy.
    """
    digest = hashlib.sha256(np.__version__.encode())
    root = Path(lightoff.__file__).parent
    for file in sorted(root.rglob("*.py")):
        seen = file.stat()
        digest.update(f"{file.relative_to(root)} {seen.st_size} {seen.st_mtime_ns}\n".encode())
    return digest.hexdigest()


def _sum(key: str, body: bytes) -> bytes:
    return hashlib.blake2b(body, digest_size=16, key=key.encode()[:64]).digest()

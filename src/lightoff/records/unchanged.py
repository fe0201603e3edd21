"""Answers about the whole shop, for as long as nothing at all is said.

Every page asks who the shop is, and a card which instruments and bins there are. Entries are only ever
added: while nothing new stands, neither does another answer.
"""

from __future__ import annotations

from collections.abc import Callable
from threading import Lock
from typing import Any, TypeVar
from weakref import WeakKeyDictionary

from sqlalchemy import Connection, RootTransaction

from lightoff.records.pieces import said_so_far

Answer = TypeVar("Answer")


class Unchanged:
    """The answers of one book by the question that was asked; for many threads."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._answers: dict[Callable[[Connection], Any], tuple[str, Any]] = {}
        # A transaction reads one moment of the book, so it needs to ask but once what was said so far.
        self._said: WeakKeyDictionary[RootTransaction, str] = WeakKeyDictionary()

    def answer(self, connection: Connection, question: Callable[[Connection], Answer]) -> Answer:
        """The answer as of the connection's moment; it is one that nobody changes."""
        said = self._said_at(connection)
        with self._lock:
            at, known = self._answers.get(question, ("", None))
        if at == said:
            told: Answer = known
            return told
        found = question(connection)
        with self._lock:
            self._answers[question] = (said, found)
        return found

    def _said_at(self, connection: Connection) -> str:
        moment = connection.get_transaction()
        with self._lock:
            said = self._said.get(moment) if moment is not None else None
        if said is None:
            said = said_so_far(connection)
            if moment is not None:
                with self._lock:
                    self._said[moment] = said
        return said

    def forget(self) -> None:
        """Forget all: the projections were made anew."""
        with self._lock:
            self._answers.clear()
            self._said.clear()

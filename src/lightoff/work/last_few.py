"""Answers that cost much and are asked for again and again: the last few are kept."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from typing import Generic, TypeVar

Answer = TypeVar("Answer")


class LastFew(Generic[Answer]):
    """The last few answers by what they were worked out from, for several threads."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[Hashable, Answer] = OrderedDict()
        self._lock = Lock()

    def of(self, known: Hashable, work_out: Callable[[], Answer]) -> Answer:
        """The answer for `known`. Two threads that ask at once may both work it out, to the same end."""
        with self._lock:
            if known in self._kept:
                self._kept.move_to_end(known)
                return self._kept[known]
        answer = work_out()
        with self._lock:
            self._kept[known] = answer
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return answer

    def latest(self, is_meant: Callable[[Hashable], bool]) -> Answer | None:
        """The answer used last of those whose `known` is meant, if one is kept; nothing is worked out."""
        with self._lock:
            return next((self._kept[known] for known in reversed(self._kept) if is_meant(known)), None)

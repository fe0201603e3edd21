"""Judgements made before, for as long as everything that they were made from stands.

A judgement lies under the hash of all that it was made from: the visit and those before it, the heater, its
people and instruments, the conflicts, the shelf, the program, and how many of its readings are still to come
by the clock. Anything else is judged anew. So what is handed out is what judging now would give.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from threading import Lock
from typing import Any, TypeVar

from lightoff.judging.assessment import Assessment
from lightoff.judging.believed import ahead_count
from lightoff.judging.content import hash_of
from lightoff.judging.outline import Outline, outline
from lightoff.records import Derived
from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.work.assess_case import assess_cases
from lightoff.work.case_hash import case_hash

# Of some two hundred heaters; a judgement takes some forty kilobytes.
MOST = 1024
Kept = TypeVar("Kept", Assessment, Outline)


class Judged:
    """The judgements asked for last, in memory and in the file of what was worked out; for many threads."""

    def __init__(self, derived: Derived | None = None, most: int = MOST) -> None:
        self._derived = derived or Derived(None)
        self._most = most
        self._lock = Lock()
        self._found: OrderedDict[str, Any] = OrderedDict()

    def assessments(self, cases: Sequence[Case], shelf: Shelf, now: datetime) -> tuple[Assessment, ...]:
        """The judgements of a heater's visits at this moment. Raises NotFound for a sheet that is unknown."""
        told = self._told("whole", lambda each: each, cases, shelf, now)
        return tuple(replace(each, judged_at=now) for each in told)

    def outlines(self, cases: Sequence[Case], shelf: Shelf, now: datetime) -> tuple[Outline, ...]:
        """What stays of the judgements of a heater's visits. Raises NotFound for a sheet that is unknown."""
        return self._told("outline", outline, cases, shelf, now)

    def _told(
        self,
        name: str,
        of: Callable[[Assessment], Kept],
        cases: Sequence[Case],
        shelf: Shelf,
        now: datetime,
    ) -> tuple[Kept, ...]:
        hashes = [hash_of(case_hash(each, shelf), str(ahead_count(each.visit, now))) for each in cases]
        known = self._before([f"{name}:{each}" for each in hashes])
        lacking = [at for at, each in enumerate(hashes) if f"{name}:{each}" not in known]
        anew = dict[str, Any]()
        for at, assessment in zip(
            lacking, assess_cases([cases[at] for at in lacking], shelf, now), strict=True
        ):
            anew[f"whole:{hashes[at]}"] = assessment
            anew[f"outline:{hashes[at]}"] = outline(assessment)
            known[f"{name}:{hashes[at]}"] = of(assessment)
        if anew:
            self._derived.keep(anew)
            self._remember(anew)
        return tuple(known[f"{name}:{each}"] for each in hashes)

    def _before(self, keys: Sequence[str]) -> dict[str, Any]:
        with self._lock:
            known = {key: self._found[key] for key in keys if key in self._found}
            for key in known:
                self._found.move_to_end(key)
        read = self._derived.find([key for key in keys if key not in known])
        self._remember(read)
        return known | read

    def _remember(self, answers: Mapping[str, Any]) -> None:
        with self._lock:
            self._found.update(answers)
            while len(self._found) > self._most:
                self._found.popitem(last=False)

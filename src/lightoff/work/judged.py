"""Judgements made before, for as long as everything that they were made from stands.

A judgement is handed out again only for the very visits that it was made from (the book makes a visit anew
whenever something new is said of it), with the same heater, instruments and conflicts in the same words,
the same shelf, and no reading of the visit passed by the clock meanwhile. Anything else is judged anew. So
what is handed out is what judging now would give, the hash of its inputs included.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from threading import Lock

from lightoff.judging.assessment import Assessment
from lightoff.judging.believed import ahead_count
from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.terms.people import Instrument
from lightoff.work.assess_case import assess_cases

# The visits of some two hundred heaters; a judgement takes some forty kilobytes.
MOST = 1024


class Judged:
    """The judgements that were asked for last. For many threads."""

    def __init__(self, most: int = MOST) -> None:
        self._most = most
        self._lock = Lock()
        # Each with the case and the shelf that its key names by their places in memory: held here, no
        # other object can take these places.
        self._found: OrderedDict[Hashable, tuple[Case, Shelf, Assessment]] = OrderedDict()
        self._meters: tuple[Mapping[str, Instrument], str] = ({}, "")

    def assessments(self, cases: Sequence[Case], shelf: Shelf, now: datetime) -> tuple[Assessment, ...]:
        """The judgements of a heater's visits at this moment. Raises NotFound for a sheet that is unknown."""
        keys = [self._key(case, shelf, now) for case in cases]
        told = [self._before(key, now) for key in keys]
        lacking = [index for index, each in enumerate(told) if each is None]
        anew = assess_cases([cases[index] for index in lacking], shelf, now)
        for index, assessment in zip(lacking, anew, strict=True):
            told[index] = assessment
            self._keep(keys[index], cases[index], shelf, assessment)
        return tuple(each for each in told if each is not None)

    def _before(self, key: Hashable, now: datetime) -> Assessment | None:
        with self._lock:
            if key not in self._found:
                return None
            self._found.move_to_end(key)
            return replace(self._found[key][2], judged_at=now)

    def _keep(self, key: Hashable, case: Case, shelf: Shelf, assessment: Assessment) -> None:
        with self._lock:
            self._found[key] = (case, shelf, assessment)
            while len(self._found) > self._most:
                self._found.popitem(last=False)

    def _key(self, case: Case, shelf: Shelf, now: datetime) -> Hashable:
        return (
            id(case.visit),
            tuple(map(id, case.history)),
            repr((case.heater, case.vehicle, case.owner, case.shop, case.conflicts)),
            self._told(case.instruments),
            id(shelf),
            ahead_count(case.visit, now),
        )

    def _told(self, instruments: Mapping[str, Instrument]) -> str:
        """The instruments in words; the cases of one heater share them."""
        known, told = self._meters
        if known is not instruments:
            told = repr(sorted(instruments.items()))
            self._meters = (instruments, told)
        return told

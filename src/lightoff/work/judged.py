"""Judgements made before, for as long as everything that they were made from stands.

A judgement is handed out again only for the very visits that it was made from (the book makes a visit anew
whenever something new is said of it), with the same heater, instruments and conflicts in the same words,
the same shelf, and no reading of the visit passed by the clock meanwhile. Anything else is judged anew. So
what is handed out is what judging now would give, the hash of its inputs included.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Hashable, Mapping
from dataclasses import replace
from datetime import datetime
from threading import Lock

from lightoff.judging.assessment import Assessment
from lightoff.judging.believed import ahead_count
from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.terms.people import Instrument
from lightoff.work.assess_case import assess_case

# The visits of some fifty heaters; a judgement takes some fifty kilobytes.
MOST = 256


class Judged:
    """The judgements that were asked for last. For many threads."""

    def __init__(self, most: int = MOST) -> None:
        self._most = most
        self._lock = Lock()
        # Each with the case and the shelf that its key names by their places in memory: held here, no
        # other object can take these places.
        self._found: OrderedDict[Hashable, tuple[Case, Shelf, Assessment]] = OrderedDict()
        self._meters: tuple[Mapping[str, Instrument], str] = ({}, "")

    def assessment(self, case: Case, shelf: Shelf, now: datetime) -> Assessment:
        """The judgement of a case at this moment. Raises NotFound for a heater whose sheet is unknown."""
        key = self._key(case, shelf, now)
        with self._lock:
            if key in self._found:
                self._found.move_to_end(key)
                return replace(self._found[key][2], judged_at=now)
        assessment = assess_case(case, shelf, now)
        with self._lock:
            self._found[key] = (case, shelf, assessment)
            while len(self._found) > self._most:
                self._found.popitem(last=False)
        return assessment

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

"""The hash of all that a case's answers are worked out from: the case, the shelf and the program."""

from __future__ import annotations

from lightoff.judging.content import hash_of, noun_hash, visit_hash
from lightoff.records import program_hash
from lightoff.shelf import Shelf
from lightoff.terms.case import Case


def case_hash(case: Case, shelf: Shelf) -> str:
    """The hash; it does not depend on order of entry."""
    return hash_of(
        program_hash(),
        shelf.sha256,
        repr(shelf.limits_in_doubt),
        visit_hash(case.visit),
        " ".join(map(visit_hash, case.history)),
        repr((case.heater, case.vehicle, case.owner, case.shop, case.conflicts)),
        repr(sorted(map(repr, case.fitted))),
        noun_hash(case.instruments, lambda meters: repr(sorted(meters.items()))),
    )

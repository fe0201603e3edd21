"""Which parts the complaint of an open visit asks for: the suspects' chances, drawn to what wear says."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from lightoff.faultfinding import posterior
from lightoff.faultfinding.asking import OWNER_SAYS
from lightoff.faultfinding.posterior import UNKNOWN_KEY
from lightoff.ground.values import dataclass
from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.terms.visit import Reading, Stage
from lightoff.work.case_hash import case_hash
from lightoff.work.find_fault import AREAS, bank_of, evidence_of
from lightoff.work.read_numbers import conditions_of, latest_readings
from lightoff.work.units import Unit
from lightoff.work.workshop import Workshop

NO_COMPLAINT = "runs well"  # what an owner says who has none
MOST_MOVED = 5.0
"""How many times likelier or less likely the age of a piece makes it a suspect at most: lives are known far
worse than what was read. Judgement, no source."""
ON_ANY_VAN = frozenset({"fuse", "wiring", "fuel_line", "air_line", "coolant_hose"})
"""What a repair uses up that is cut from what lies on every van. Common practice, no source."""
_LEAST_CHANCE = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspected:
    """What may be wrong, as parts that its repair uses up, with the chance of each set; they sum to one.

    A set with "unknown" is a fault that the catalogue lacks.

    `says` is the state that comes nearest to what the owner says, `complaint` the words that were taken down;
    both are blank where only readings speak.
    """

    says: str
    complaint: str
    sets: tuple[tuple[tuple[str, ...], float], ...]

    def needs(self, moved: Mapping[str, float]) -> Mapping[str, float]:
        """The chance that each part is needed; `moved`: how much likelier its age makes its failure."""
        weights = []
        for parts, chance in self.sets:
            weight = chance
            for part in parts:
                weight *= min(max(moved.get(part, 1.0), 1.0 / MOST_MOVED), MOST_MOVED)
            weights.append(weight)
        whole, found = sum(weights), dict[str, float]()
        for (parts, _), weight in zip(self.sets, weights, strict=True):
            for part in parts:
                found[part] = found.get(part, 0.0) + weight / whole
        return {part: min(chance, 1.0) for part, chance in found.items()}

    def unlisted(self, listed: Collection[str]) -> float:
        """The chance that it takes something of which no stock is kept: no part type, or no known fault."""
        known = {*listed, *ON_ANY_VAN}
        return float(sum(chance for parts, chance in self.sets if not known.issuperset(parts)))


def parts_suspected(workshop: Workshop, unit: Unit) -> Suspected | None:
    """What the heater's open visit suspects; None without one, or without a complaint or answers in it.

    Raises NotFound for a sheet that is not on the shelf.
    """
    if not unit.visits or unit.visits[-1].closed_at is not None:
        return None
    # Without the ages of its parts: what to carry weighs them itself, by the shop's own lives.
    case = workshop.book.case(unit.visits[-1].id)
    if not is_asked(case, workshop.shelf):
        return None
    key = f"parts suspected:{case_hash(case, workshop.shelf)}"
    known: Suspected | None = workshop.derived.find([key]).get(key)
    if known is None:
        known = suspected_in(case, workshop.shelf)
        workshop.derived.keep({key: known})
    return known


def is_asked(case: Case, shelf: Shelf) -> bool:
    """Whether anybody complains, or looked for a fault."""
    if case.visit.complaint.strip():
        return True
    entries = shelf.catalogue.entries
    return any(
        each.key in entries and entries[each.key].area in AREAS and not _says_well(each)
        for each in latest_readings(case, stage=Stage.AS_FOUND).values()
    )


def suspected_in(case: Case, shelf: Shelf) -> Suspected:
    """The sets of parts that the search for the fault holds possible; who complains has something wrong.

    Raises NotFound for a sheet that is not on the shelf.
    """
    latest = latest_readings(case, stage=Stage.AS_FOUND)
    says = latest.get(OWNER_SAYS)
    state = says.state if says is not None and says.state and not _says_well(says) else None
    evidence = evidence_of(case, shelf.catalogue)
    found = posterior(bank_of(case, shelf, conditions_of(case, shelf)), evidence)
    complains = bool(state or case.visit.complaint.strip())
    told: dict[tuple[str, ...], float] = {}
    for faults, chance in zip(found.sets, found.chances, strict=True):
        if complains and not faults:
            continue
        named = {shelf.faults[each].takes if each in shelf.faults else UNKNOWN_KEY for each in faults}
        parts = tuple(sorted(named - {""}))
        told[parts] = told.get(parts, 0.0) + float(chance)
    whole = sum(told.values())
    likely = {parts: chance for parts, chance in told.items() if chance > _LEAST_CHANCE * whole}
    whole = sum(likely.values())
    return Suspected(
        says=state or "",
        complaint=case.visit.complaint.strip(),
        sets=tuple((parts, chance / whole) for parts, chance in sorted(likely.items())),
    )


def _says_well(reading: Reading) -> bool:
    return reading.key == OWNER_SAYS and reading.state == NO_COMPLAINT

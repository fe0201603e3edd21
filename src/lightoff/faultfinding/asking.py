"""What is asked before the ranking has a say: the owner's words, the last work, how often it tried,
how long it stood."""

from __future__ import annotations

from lightoff.faultfinding.cost import CONFIRM_MINUTES
from lightoff.faultfinding.evidence import Evidence
from lightoff.faultfinding.finding import Finding
from lightoff.faultfinding.ranking import Kind, Step
from lightoff.terms.shelf import Catalogue, Fault

OWNER_SAYS, LAST_WORK, TRIALS = "owner_says", "last_work", "trials_without_flame"
LAST_GOOD_RUN, ONCE_MORE = "last_good_run", "start_once_more"
"""The second is what an owner tries where nothing need be wrong but a line that ran empty: one start more."""
FIRST = (OWNER_SAYS, LAST_WORK)
"""Asked in this order before anything is read. Common practice, no source."""


def asked_first(evidence: Evidence, read: frozenset[str]) -> str:
    """The reading to ask for before anything else, "" for none. `read`: what was had, or could not be had.

    After starts without a flame their number is asked for at once: from the second on nothing may be started
    before somebody has looked into the chamber. Of a flame that died, how long the heater stood before: that
    is no news about one cause or another, but what every cause is held against.
    """
    due = [
        *FIRST,
        *((TRIALS,) if tried_without_flame(evidence) else ()),
        *((LAST_GOOD_RUN,) if flame_died(evidence) else ()),
    ]
    return next((key for key in due if key not in read), "")


def tried_without_flame(evidence: Evidence) -> bool:
    """Whether anybody says that it tried and did not light."""
    said = evidence.states.get(OWNER_SAYS, {}).get("tries without flame", 0.0)
    seen = evidence.states.get("light_off", {}).get("did not light", 0.0)
    return max(said, seen) >= 0.5


def flame_died(evidence: Evidence) -> bool:
    """Whether the owner says that it lights and dies."""
    return evidence.states.get(OWNER_SAYS, {}).get("lights then dies", 0.0) >= 0.5


def next_step(finding: Finding, evidence: Evidence, read: frozenset[str], catalogue: Catalogue) -> Step:
    """What is done next: what is asked first, else the best of the ranking."""
    key = asked_first(evidence, read)
    return reading_step(key, catalogue) if key in catalogue.entries else finding.steps[0]


def reading_step(key: str, catalogue: Catalogue) -> Step:
    """A reading as a step that no ranking chose: it promises nothing and costs its minutes."""
    entry = catalogue.entries[key]
    cautions = (entry.caution,) if entry.caution else ()
    return _chosen(Kind.READING, key, minutes=entry.minutes, opens=entry.opens, cautions=cautions)


def repair_step(fault: Fault) -> Step:
    """The repair of a suspect that somebody wants to go for, whatever the ranking says."""
    minutes = fault.minutes + CONFIRM_MINUTES
    return _chosen(Kind.REPAIR, fault.key, minutes=minutes, opens=fault.opens, cautions=fault.cautions)


def _chosen(kind: Kind, key: str, *, minutes: float, opens: str, cautions: tuple[str, ...]) -> Step:
    return Step(
        kind=kind,
        key=key,
        minutes=minutes,
        opens=opens,
        cautions=cautions,
        expected_minutes=0.0,
        saves_minutes=0.0,
        outcomes=(),
    )

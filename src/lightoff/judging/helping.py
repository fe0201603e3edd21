"""Which single reading would help most: one that the shop can take now, by what it is needed for.

This is the one place of that rule; the card's next step, the report and the command line ask here.
"""

from __future__ import annotations

from collections.abc import Iterable

from lightoff.judging.assessment import GateResult, Judgement
from lightoff.judging.evidence_gates import MOVED
from lightoff.judging.view import View
from lightoff.terms.shelf import CatalogueEntry
from lightoff.terms.visit import Stage

# What a reading is needed for, the most pressing first; within one purpose, what tells most comes first.
# Basis: the order of a verdict's dangers (leave, do not fire, not fit, not proven), then common practice.
PURPOSES: dict[str, tuple[str, ...]] = {
    "fuel in the chamber can light with a blast": ("chamber_look", "trials_without_flame"),
    "people breathe the air in there": (
        "living_space_co_running",
        "outdoor_co",
        "living_space_co_off",
        "exhaust_path",
    ),
    "fuel outside the burner can burn": ("fuel_joints_1_min", "fuel_joints_10_min"),
    "it shows the burn itself": (
        "flue_co",
        "flue_o2",
        "flue_co2",
        "smoke_number",
        "smoke_spot_look",
        "inlet_path",
        "light_off",
    ),
    "without it the burn's readings are not believed": (
        "sampling_line",
        "probe_zero",
        "fresh_air_o2_before",
        "fresh_air_co_before",
        "fresh_air_o2_after",
        "fresh_air_co_after",
        "co_response",
        "time_to_light",
    ),
    "it comes last of all": ("after_run",),
}
ORDER = tuple(key for keys in PURPOSES.values() for key in keys)


def rank(key: str) -> int:
    """The place of a reading in the order of purposes; one that has none comes after all."""
    return ORDER.index(key) if key in ORDER else len(ORDER)


def most_useful(gates: Iterable[GateResult], view: View) -> str | None:
    """The catalogue key of the reading that would help most with these gates, or None where none would.

    1. Only what an open gate lacks and the shop can take, with its instruments or with eyes and watch.
    2. What nobody has read as left, before what was read and does not count or lacks its second set.
    3. Then by purpose.

    While a danger stands (`danger_stands`) nothing is asked for: what to do comes first.
    """
    lacking = {key for gate in gates if _is_open(gate) for key in gate.missing}
    read = {one.reading.key for one in view.believed.judged if one.reading.stage is Stage.AS_LEFT}
    possible = [key for key in lacking if _can_take(key, view)]
    return min(possible, key=lambda key: (key in read, rank(key), key), default=None)


def instruments_wanted(gates: Iterable[GateResult], view: View) -> tuple[str, ...]:
    """Classes of instruments that open gates need and the shop does not own, the most pressing first."""
    keys = {
        gate.missing[0]
        for gate in gates
        if _is_open(gate) and gate.missing and not any(_can_take(key, view) for key in gate.missing)
    }
    entries = (view.catalogue.entries.get(key) for key in sorted(keys, key=lambda key: (rank(key), key)))
    return tuple(dict.fromkeys(_instrument(entry) for entry in entries if entry is not None))


def _is_open(gate: GateResult) -> bool:
    return gate.judgement is not Judgement.WITHIN


def _can_take(key: str, view: View) -> bool:
    entry = view.catalogue.entries.get(key)
    return entry is not None and entry.can_be_taken_with(owned(view))


def owned(view: View) -> frozenset[str]:
    """The classes of the shop's instruments that are in use."""
    return frozenset(each.kind for each in view.case.instruments.values() if not each.retired)


def _instrument(entry: CatalogueEntry) -> str:
    return next(iter((*entry.needs, *entry.classes)))


def danger_stands(gates: Iterable[GateResult], view: View) -> bool:
    """Whether a stop was seen after the burner was last worked on; what has no time counts as after."""
    stops = [gate for gate in gates if gate.judgement is Judgement.STOP]
    if not stops:
        return False
    bad = {each for gate in stops for each in gate.readings}
    seen = [one.reading.taken_at for one in view.believed.judged if one.reading.id in bad]
    worked = [
        each.at
        for each in view.case.visit.events
        if each.kind in MOVED and each.heater == view.case.visit.heater
    ]
    times = [at for at in seen if at is not None]
    return not worked or len(times) < len(seen) or not times or max(times) >= max(worked)

"""What it costs to get a heater mended, in minutes of a technician's time."""

from __future__ import annotations

from collections.abc import Mapping

from lightoff.faultfinding.evidence import Evidence, Outcome
from lightoff.plant.quantities import QUANTITIES
from lightoff.terms.shelf import Catalogue, Fault, Trial

OPENING_MINUTES: Mapping[str, float] = {
    "": 0.0,
    "electric": 2.0,
    "exhaust": 6.0,
    "fuel": 8.0,
    "coolant": 12.0,
}
"""What an opened path owes on closing, once a visit: leak, CO or bleeding check. Judgement, no source."""
CONFIRM_MINUTES = 4.0
"""A start to see whether it runs well. Judgement, no source."""
HAND_OVER_MINUTES = 300.0
"""Handing the heater to the maker's service, as a technician's own time. Judgement; a shop's to set."""
SOUND_MINUTES = 5.0
"""Showing the owner that nothing is wrong. Judgement, no source."""
CHEAP_MINUTES = 5.0
"""What a look may take that is still made before handing over. Judgement, no source."""
SOUND = ""
"""The key under which showing that nothing is wrong stands among the repairs."""
DERIVED: Mapping[str, tuple[str, ...]] = {
    "fuel_flow": ("fuel_volume", "fuel_time"),
    "warm_up_rate": ("coolant_temperature_start", "coolant_temperature_end", "warm_up_time"),
}
"""Numbers that are worked out of several readings, which are taken together."""
STAYS_IN = "known_good_"
"""A trial with a part of the heater's own: when it runs well the part stays, and only its price is left."""


def repair_key(fault: Fault) -> str:
    """What is done to mend it: faults that share it are mended together.

    A part that can be swapped mends by its renewal everything that it can have; setting the air mends every
    setting.
    """
    if fault.swap and fault.part:
        return f"renew {fault.part}"
    if set(fault.shifts) == {"air_setting"}:
        return "set the air"
    return fault.key


def repair_minutes(fault: Fault) -> float:
    """Hand's work of one repair with the start that confirms it, without what its path owes."""
    return fault.minutes + CONFIRM_MINUTES


def reading_minutes(catalogue: Catalogue, key: str) -> float:
    """Minutes of one reading, of readings taken together those of the longest, without what the path owes."""
    return max(catalogue.entries[part].minutes for part in DERIVED.get(key, (key,)))


def reading_path(catalogue: Catalogue, key: str) -> str:
    """The path that a reading opens, "" for none."""
    paths = {catalogue.entries[part].opens for part in DERIVED.get(key, (key,))}
    return max(paths, key=lambda path: OPENING_MINUTES[path])


def read_along(catalogue: Catalogue, key: str, evidence: Evidence) -> tuple[str, ...]:
    """Numbers not read yet that the instrument of this one reads where it is by then: the probe in the pipe.

    They open nothing else and need no start or flame that this one does not need.
    """
    if key not in QUANTITIES or key not in catalogue.entries:
        return ()
    entry, quantity = catalogue.entries[key], QUANTITIES[key]
    done = evidence.known | evidence.not_possible
    return tuple(
        other
        for other, its in QUANTITIES.items()
        if other != key
        and other not in done
        and (there := catalogue.entries.get(other)) is not None
        and (there.classes[:1], there.place, there.opens) == (entry.classes[:1], entry.place, entry.opens)
        and its.needs_flame <= quantity.needs_flame
        and its.needs_trial <= quantity.needs_trial
    )


def was_read_again(evidence: Evidence, key: str) -> bool:
    """Whether a reading, or one of those that a number is worked out of, was read again and stands."""
    return not evidence.read_again.isdisjoint({key, *DERIVED.get(key, ())})


def swapped_in(trial: Trial, faults: Mapping[str, Fault]) -> frozenset[str]:
    """Repairs, by `repair_key`, that are done already once this trial has made the heater run well."""
    if not trial.key.startswith(STAYS_IN):
        return frozenset()
    return frozenset(
        repair_key(fault)
        for fault in faults.values()
        if fault.part and set(fault.shifts) <= set(trial.resets)
    )


def opened_paths(
    catalogue: Catalogue, faults: Mapping[str, Fault], trials: Mapping[str, Trial], evidence: Evidence
) -> frozenset[str]:
    """Paths that this visit has opened already: what they owe is owed anyhow."""
    taken = frozenset(evidence.numbers) | frozenset(evidence.states)
    read = {catalogue.entries[key].opens for key in taken if key in catalogue.entries}
    read |= {reading_path(catalogue, key) for key in taken if key in DERIVED}
    tried = {
        trials[key].opens
        for key, outcome in evidence.trials.items()
        if key in trials and outcome is not Outcome.NOT_DONE
    }
    mended = {
        faults[key].opens
        for key, outcome in evidence.repairs.items()
        if key in faults and outcome is not Outcome.NOT_DONE
    }
    return frozenset(read | tried | mended)

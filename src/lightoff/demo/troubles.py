"""What can be wrong with an invented heater: faults of the shelf, and what a technician did about them."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.terms.shelf import Fault

MILDEST, SEVERE = 0.3, 0.8
"""Of a fault's own range of severity: below the first nobody calls, above the second nobody waits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """One or two faults at their severities; `severity` runs along each fault's own range, from 0 to 1."""

    faults: tuple[Fault, ...]
    severity: tuple[float, ...]
    done: str
    complaint: str = ""  # where the owner says something that no heater shows

    def amounts(self) -> tuple[tuple[Fault, float], ...]:
        """Each fault with the share of its full shifts."""
        return tuple(
            (fault, fault.severity[0] + at * (fault.severity[1] - fault.severity[0]))
            for fault, at in zip(self.faults, self.severity, strict=True)
        )


FUMES_INSIDE = ("exhaust_leaking", "air_set_low")
_DONE: Mapping[tuple[str, ...], str] = {
    ("inlet_tube_unseated",): "The inlet tube was seated again.",
    ("suction_air_leak",): "The O-ring of the filter head was renewed; it drew air.",
    ("igniter_weak",): "The igniter was renewed.",
    ("igniter_open",): "The igniter was renewed.",
    ("igniter_on_edge",): "The igniter was turned so that its flat faces the spray.",
    ("igniter_pin_pushed_back",): "The pin in the igniter's plug was put home and locked.",
    ("igniter_connector_burnt",): "The igniter's plug was renewed.",
    ("ground_corroded",): "The corroded ground lug was cleaned and greased.",
    ("supply_cable_poor",): "The crimp of the supply lead was made again.",
    ("battery_weak",): "The battery was charged; the owner was told of its age.",
    ("flame_window_sooted",): "The flame sensor's window was cleaned.",
    ("fan_worn",): "The combustion fan was renewed.",
    ("exhaust_blocked",): "Mud was cleared from the exhaust's outlet.",
    ("compressor_filter_plugged",): "The compressor's intake filter was renewed.",
    ("air_line_leaking",): "The atomising air line was cut back and clamped.",
    ("nozzle_partly_plugged",): "The nozzle was renewed.",
    ("nozzle_ring_leaking",): "The O-ring of the nozzle was renewed.",
    ("fuel_filter_restricted",): "The fuel filter was renewed and filled.",
    ("fuel_filter_not_primed",): "The fuel filter was filled and the line bled.",
    ("fuel_pump_weak",): "The fuel pump was renewed.",
    ("water_in_fuel",): "Water was drained from tank and filter.",
    ("pickup_uncovered",): "The tank was filled and the line bled.",
    ("jacket_sooted",): "Burn tube and jacket were brushed clean.",
    ("circuit_air_bound",): "The circuit was bled.",
    ("circulation_pump_weak",): "The circulation pump was renewed.",
    ("zone_valve_stuck",): "The zone valve was renewed.",
    ("hot_water_exchanger_scaled",): "The hot-water exchanger was descaled.",
    ("check_valve_passing",): "The check valve to the engine was renewed.",
    FUMES_INSIDE: ("The exhaust clamp inside the compartment had opened; the vehicle was left and aired."),
}
_SMELT: Mapping[tuple[str, ...], str] = {FUMES_INSIDE: "Headache in the morning."}
NO_HEAT = (
    ("fuel_filter_not_primed",),
    ("igniter_pin_pushed_back",),
    ("ground_corroded",),
)
"""What the calls that are still open suffer from."""


def draw_trouble(
    rng: np.random.Generator, faults: Mapping[str, Fault], *, among: tuple[tuple[str, ...], ...] = ()
) -> Trouble:
    """One trouble, as often as the shelf says that its faults are met; rarer where two must meet.

    Two that meet, and one chosen from `among`, are severe.
    """
    known = [keys for keys in among or _DONE if all(key in faults for key in keys)]
    weights = np.array([0.3 ** (len(keys) - 1) * min(faults[key].weight for key in keys) for keys in known])
    keys = known[int(rng.choice(len(known), p=weights / weights.sum()))]
    mildest = SEVERE if among or len(keys) > 1 else MILDEST
    severity = tuple(float(rng.uniform(mildest, 1.0)) for _ in keys)
    return Trouble(
        faults=tuple(faults[key] for key in keys),
        severity=severity,
        done=_DONE[keys],
        complaint=_SMELT.get(keys, ""),
    )


COMPLAINTS: Mapping[str, str] = {
    "does nothing": "Does nothing when it is switched on.",
    "tries without flame": "Tries several times, does not light.",
    "lights then dies": "Lights, then dies.",
    "smokes or smells": "Smokes and smells.",
    "gives little heat": "Takes longer to heat than last year.",
    "gives no hot water": "No hot water at the tap.",
    "is noisy": "Louder than it used to be.",
    "lights late": "Takes long to light, sometimes twice.",
}
"""The owner's words for each state of the catalogue's reading, as such an owner puts them."""

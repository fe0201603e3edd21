"""A fixed checklist, as trade manuals print them: by complaint, each check with what it points to.

The order within a complaint follows the manuals' habit (supply and control, then fuel, ignition, air,
atomising, flame detection, burn, coolant), the quick look before the long one. What a check finds out of
order is mended before the next check. Compiled for this comparison; judgement, no source.
"""

from __future__ import annotations

from collections.abc import Mapping

LOOKS: Mapping[str, Mapping[str, str]] = {
    # Supply and control
    "panel_switch": {"off": "switch_off", "no contact": "panel_switch_failed"},
    "thermostat_set": {"below the room": "thermostat_satisfied"},
    "lockout_state": {"locked out": "control_locked_out"},
    "fuse_look": {"blown": "fuse_blown", "holder corroded": "fuse_blown"},
    "battery_posts_look": {"loose or corroded": "battery_posts_loose"},
    "ground_look": {"loose or corroded": "ground_corroded"},
    "control_power": {"none": "feed_wire_broken"},
    "wiring_look": {"loose or broken": "supply_cable_poor"},
    "thermostat_contact": {"open": "thermostat_failed"},
    "aquastat_contact": {"open when cool": "aquastat_failed"},
    "high_limit_state": {"open": "high_limit_tripped"},
    "flame_sensor_covered": {"still signals flame": "flame_sensed_in_dark"},
    "control_look": {"burnt or wet": "control_dead"},
    # Fuel
    "fuel_at_pickup": {"below the pick-up": "pickup_uncovered", "tank empty": "tank_empty"},
    "fuel_filter_look": {"dark": "fuel_filter_restricted", "water": "water_in_fuel", "wax": "fuel_gelled"},
    "filter_fill": {"part empty": "fuel_filter_not_primed"},
    "suction_joints": {"loose or damp": "suction_air_leak"},
    "air_bubbles": {"few": "suction_air_leak", "many": "suction_air_leak"},
    "fuel_line_look": {"kinked or squeezed": "fuel_line_squeezed"},
    "pump_click": {"irregular": "fuel_pump_weak", "silent": "fuel_pump_stuck"},
    "fuel_valve_look": {"stays shut": "fuel_valve_stuck", "weeps": "fuel_valve_weeping"},
    "fuel_look": {"hazy": "fuel_gelled", "water below": "water_in_fuel", "dark or odd": "wrong_fuel"},
    "lift_look": {"too high": "lift_too_high"},
    "tank_bottom_look": {"water": "water_in_fuel", "sludge": "tank_sludge"},
    # Ignition
    "connector_look": {
        "pin pushed back": "igniter_pin_pushed_back",
        "burnt": "igniter_connector_burnt",
        "corroded": "igniter_connector_burnt",
    },
    "igniter_look": {"coated": "igniter_weak", "cracked": "igniter_cracked"},
    "igniter_seat_look": {"on edge": "igniter_on_edge"},
    # Air and exhaust
    "inlet_tube_look": {"standing up": "inlet_tube_unseated", "blocked": "inlet_blocked"},
    "inlet_path": {"restricted": "inlet_blocked", "drawing exhaust": "exhaust_drawn_back"},
    "exhaust_outlet_look": {"blocked": "exhaust_blocked"},
    "exhaust_path": {
        "blocked": "exhaust_blocked",
        "leaking inside": "exhaust_leaking",
        "leaking outside": "exhaust_leaking",
    },
    "place_height": {"much higher": "set_for_lower_place"},
    "exhaust_length": {"longer or more bends": "exhaust_too_long"},
    "fan_free": {"stiff": "fan_worn", "seized": "fan_dead"},
    # Atomising
    "compressor_filter_look": {
        "plugged": "compressor_filter_plugged",
        "head cracked": "compressor_filter_head_cracked",
    },
    "air_line_look": {"leaking": "air_line_leaking", "off": "air_line_leaking"},
    "nozzle_filter_look": {"plugged": "nozzle_filter_plugged"},
    "nozzle_look": {"carboned": "nozzle_partly_plugged", "worn": "nozzle_worn"},
    "nozzle_parts_look": {"missing": "distributor_missing", "wrong way up": "distributor_wrong_way_up"},
    "nozzle_ring_look": {"flattened or torn": "nozzle_ring_leaking"},
    "nozzle_size": {"larger": "nozzle_too_large", "smaller": "nozzle_too_small"},
    # Flame detection and burn
    "window_look": {"sooted": "flame_window_sooted"},
    "burn_tube_look": {"heavy soot": "burn_tube_sooted", "cracked": "burn_tube_cracked"},
    "jacket_gas_side_look": {"sooted": "jacket_sooted"},
    "solvent_smell": {"of solvent": "solvent_left"},
    "chamber_coolant": {"coolant in it": "jacket_leaking"},
    # Coolant
    "coolant_level": {"low": "coolant_low", "empty": "coolant_low"},
    "air_vent": {"air comes": "circuit_air_bound"},
    "circulation_pump_power": {"no power": "circulation_pump_unpowered"},
    "circulation_pump_sound": {"silent": "circulation_pump_dead", "noisy": "circulation_pump_weak"},
    "zone_valve_look": {"stays shut": "zone_valve_stuck"},
    "zone_fan_look": {"weak": "zone_fan_weak", "still": "zone_fan_weak"},
    "sensor_compare": {"reads high": "coolant_sensor_high", "reads low": "coolant_sensor_low"},
    "high_limit_trip": {"too early": "high_limit_early"},
    "hot_water_approach": {"far apart": "hot_water_exchanger_scaled"},
    "jacket_water_side_look": {"scaled": "jacket_scaled"},
    "engine_hose": {"warm": "check_valve_passing"},
    "tank_trend": {"one rises one falls": "engine_exchanger_leaking"},
}
"""What each look points to."""
METERS: Mapping[str, Mapping[str, str]] = {
    "supply_voltage_rest": {"low": "battery_weak"},
    "supply_voltage_igniter": {"low": "supply_cable_poor"},
    "ground_drop": {"high": "ground_corroded"},
    "igniter_voltage_at_lead": {"low": "igniter_drive_dead"},
    "igniter_resistance": {"high": "igniter_open"},
    "igniter_current": {"low": "igniter_weak"},
    "fan_current": {"low": "fan_dead", "high": "fan_worn"},
    "fuel_pump_current": {"low": "fuel_pump_stuck"},
    "fuel_flow": {"low": "fuel_pump_weak"},
    "compressor_current": {"low": "compressor_dead"},
    "atomising_air_pressure": {"low": "compressor_weak"},
    "flame_sensor_signal": {"high": "flame_sensor_weak"},
    "flue_o2": {"low": "air_set_low", "high": "air_set_high"},
    "coolant_flow": {"low": "circulation_pump_weak"},
}
"""What a number outside the healthy band points to."""

SUPPLY = (
    "supply_voltage_rest", "supply_voltage_igniter", "battery_posts_look", "fuse_look", "control_power",
    "ground_look", "ground_drop", "wiring_look",
)  # fmt: skip
CONTROL = (
    "panel_switch", "thermostat_set", "lockout_state", "high_limit_state", "thermostat_contact",
    "aquastat_contact", "flame_sensor_covered", "control_look",
)  # fmt: skip
FUEL = (
    "fuel_at_pickup", "fuel_filter_look", "filter_fill", "air_bubbles", "pump_click", "fuel_pump_current",
    "fuel_line_look", "suction_joints", "lift_look", "fuel_flow", "fuel_look", "fuel_valve_look",
    "tank_bottom_look",
)  # fmt: skip
IGNITION = (
    "connector_look", "igniter_voltage_at_lead", "igniter_current", "igniter_resistance", "igniter_seat_look",
    "igniter_look",
)  # fmt: skip
AIR = (
    "inlet_tube_look", "inlet_path", "exhaust_outlet_look", "exhaust_path", "place_height", "fan_current",
    "fan_free", "exhaust_length", "flue_o2",
)  # fmt: skip
ATOMISING = (
    "compressor_filter_look", "air_line_look", "compressor_current", "atomising_air_pressure",
    "nozzle_filter_look", "nozzle_look", "nozzle_parts_look", "nozzle_ring_look", "nozzle_size",
)  # fmt: skip
FLAME = ("window_look", "flame_sensor_signal")
BURN = ("solvent_smell", "burn_tube_look", "chamber_coolant", "jacket_gas_side_look")
COOLANT = (
    "coolant_level", "circulation_pump_sound", "circulation_pump_power", "air_vent", "zone_valve_look",
    "zone_fan_look", "sensor_compare", "tank_trend", "engine_hose", "coolant_flow", "hot_water_approach",
    "high_limit_trip", "jacket_water_side_look",
)  # fmt: skip

BY_COMPLAINT: Mapping[str, tuple[tuple[str, ...], ...]] = {
    "does nothing": (CONTROL, SUPPLY, COOLANT, FUEL, IGNITION, AIR, ATOMISING, FLAME, BURN),
    "tries without flame": (SUPPLY, FUEL, IGNITION, AIR, ATOMISING, FLAME, BURN, CONTROL, COOLANT),
    "lights late": (SUPPLY, IGNITION, FUEL, ATOMISING, AIR, FLAME, BURN, CONTROL, COOLANT),
    "lights then dies": (FLAME, FUEL, AIR, COOLANT, SUPPLY, ATOMISING, IGNITION, BURN, CONTROL),
    "smokes or smells": (AIR, ATOMISING, FUEL, BURN, SUPPLY, IGNITION, FLAME, COOLANT, CONTROL),
    "is noisy": (AIR, ATOMISING, FUEL, COOLANT, BURN, SUPPLY, IGNITION, FLAME, CONTROL),
    "gives little heat": (COOLANT, FUEL, BURN, AIR, ATOMISING, CONTROL, SUPPLY, FLAME, IGNITION),
    "gives no hot water": (COOLANT, CONTROL, FUEL, BURN, AIR, ATOMISING, SUPPLY, FLAME, IGNITION),
    "runs well": (),
}
"""The systems in order for what the owner says."""


def checklist(complaint: str) -> tuple[str, ...]:
    """All checks in order for a complaint."""
    return tuple(check for system in BY_COMPLAINT[complaint] for check in system)

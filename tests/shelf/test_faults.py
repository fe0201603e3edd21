"""The faults that ship: whole, said in words, within the plant and the catalogue; and a shop's own."""

from pathlib import Path
from typing import Any

import pytest

from lightoff.ground.message import message
from lightoff.ground.sources import SOURCES
from lightoff.heater.signs import STATES
from lightoff.plant.parameters import PARAMETERS, Kind
from lightoff.shelf import open_shelf
from lightoff.shelf.faults import SYSTEMS
from lightoff.terms.shelf import Fault, Trial
from lightoff.texts import Speaker
from lightoff.texts.speaker import templates

SHELF = open_shelf()
FAULTS = list(SHELF.faults.values())
TRIALS = list(SHELF.trials.values())
ENTRIES = SHELF.catalogue.entries
TEXTS = templates("en")

# What the forward model predicts by itself: no fault says a second time how these look.
PREDICTED = set(STATES)

# What opens a search, and what a call counts before anybody starts it: no fault shows it.
OPENING = {"owner_says", "last_work", "fumes_inside", "last_good_run", "starts_tried", "start_once_more"}

# What a technician's catalogue must hold; keys are laid for good.
MUST_HOLD = {
    "supply_cable_poor", "ground_corroded", "feed_wire_broken", "battery_posts_loose", "control_dead",
    "panel_switch_failed", "igniter_drive_dead", "flame_window_sooted", "flame_sensor_weak",
    "flame_sensed_in_dark", "fan_worn", "fan_dead", "inlet_tube_unseated", "inlet_blocked",
    "exhaust_blocked", "exhaust_leaking", "exhaust_too_long", "igniter_open", "igniter_weak",
    "igniter_on_edge", "igniter_cracked", "igniter_pin_pushed_back", "compressor_weak",
    "compressor_filter_plugged", "compressor_filter_head_cracked", "fuel_filter_restricted",
    "fuel_filter_not_primed", "suction_air_leak", "lift_too_high", "fuel_pump_weak", "fuel_pump_stuck",
    "water_in_fuel", "fuel_gelled", "wrong_fuel", "nozzle_filter_plugged", "nozzle_partly_plugged",
    "nozzle_worn", "nozzle_too_large", "nozzle_too_small", "distributor_missing",
    "distributor_wrong_way_up", "nozzle_ring_leaking", "burn_tube_sooted", "jacket_sooted",
    "jacket_scaled", "coolant_low", "circuit_air_bound", "circulation_pump_weak", "zone_valve_stuck",
    "zone_fan_weak", "thermostat_failed", "high_limit_tripped", "coolant_sensor_high",
    "coolant_sensor_low", "aquastat_failed", "hot_water_exchanger_scaled", "fuse_blown",
    "pickup_uncovered", "fuel_valve_stuck", "fuel_valve_weeping", "air_line_leaking",
    "exhaust_drawn_back", "air_set_low", "air_set_high", "burn_tube_cracked", "tank_sludge",
    "solvent_left", "engine_exchanger_leaking", "check_valve_passing", "set_for_lower_place",
    "tank_empty", "switch_off", "thermostat_satisfied", "battery_weak", "cold_fuel",
}  # fmt: skip


def said(shelf: Any) -> str:
    return " ".join(Speaker().say(each.message) for each in shelf.problems)


def opened(folder: Path, text: str) -> Any:
    (folder / "faults.toml").write_text(text, encoding="utf-8")
    return open_shelf(folder)


def test_every_cause_of_the_trade_is_there() -> None:
    assert SHELF.faults.keys() >= MUST_HOLD
    assert {fault.system for fault in FAULTS} == set(SYSTEMS)
    operating = {fault.key for fault in FAULTS if fault.operating}
    assert {"set_for_lower_place", "tank_empty", "switch_off", "thermostat_satisfied"} <= operating
    assert {"battery_weak", "cold_fuel", "pickup_uncovered"} <= operating


def test_cautions_stand_at_the_step_that_needs_them() -> None:
    """A finger at fan or compressor, a spanner at the hot nozzle, hands in descaler."""
    for fault in FAULTS:
        if any(word in fault.key for word in ("inlet", "fan_worn", "fan_dead", "compressor")):
            assert "moving" in fault.cautions, fault.key
        if any(word in fault.key for word in ("nozzle", "distributor", "igniter_open", "igniter_weak")):
            assert "hot" in fault.cautions, fault.key
        if fault.takes == "descaler":
            assert "gloves and eye protection" in TEXTS[f"fault_repair.{fault.key}"]
        if fault.opens == "fuel":
            assert "fuel" in fault.cautions, fault.key


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.key)
def test_every_fault_can_be_said_repaired_and_proved(fault: Fault) -> None:
    assert len(TEXTS[f"fault.{fault.key}"]) <= 40
    for section in ("fault_words", "fault_repair", "fault_prove"):
        sentence = TEXTS[f"{section}.{fault.key}"]
        assert sentence.endswith(".")
        assert len(sentence) <= 160
    assert not any(sign.isdigit() for sign in TEXTS[f"fault.{fault.key}"] + TEXTS[f"fault_words.{fault.key}"])
    assert all(f"caution.{each}" in TEXTS for each in fault.cautions)
    assert not fault.part or f"part.{fault.part}" in TEXTS
    assert not fault.takes or f"part.{fault.takes}" in TEXTS
    # Who carries a new part for it is told to renew something; what is descaled takes a descaler.
    assert ("escale" in TEXTS[f"fault_repair.{fault.key}"]) is (fault.takes == "descaler")
    assert fault.proves
    assert f"fault_system.{fault.system.replace(' ', '_')}" in TEXTS


@pytest.mark.parametrize("each", [*FAULTS, *TRIALS], ids=lambda each: each.key)
def test_every_ground_says_its_authority(each: Fault | Trial) -> None:
    plain = ("Judgement, no source.", "Common practice, no source.")
    assert each.ground.endswith(plain) or any(key in each.ground for key in SOURCES)
    assert len(each.ground) > 60


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.key)
def test_every_fault_moves_the_plant_and_its_looks_are_no_second_copy(fault: Fault) -> None:
    assert fault.shifts
    for key, shift in fault.shifts.items():
        assert shift != 0
        assert abs(shift) * fault.severity[1] > PARAMETERS[key].spread, f"{key} is lost among sound heaters"
        if PARAMETERS[key].kind is Kind.LOG:
            assert abs(shift) <= 9
    assert not fault.shows.keys() & PREDICTED


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.key)
def test_opening_a_path_carries_its_caution(fault: Fault) -> None:
    needed = {
        "fuel": {"fuel"},
        "coolant": {"coolant"},
        "electric": {"electric"},
        "exhaust": {"hot", "electric", "solvent"},
        "": set(),
    }[fault.opens]
    assert not needed or needed & set(fault.cautions)
    assert not fault.swap or fault.part or fault.operating


def test_a_look_of_its_own_proves_the_fault_that_it_shows() -> None:
    """A fault that shows one state with near certainty is proved by that look."""
    silent = [
        f"{fault.key}: {key}"
        for fault in FAULTS
        for key, states in fault.shows.items()
        if max(states.values()) >= 0.9 and key not in fault.proves
    ]
    assert not silent


def test_every_reading_of_fault_finding_serves_a_fault_or_is_predicted() -> None:
    used = {key for fault in FAULTS for key in (*fault.proves, *fault.shows)}
    idle = {k for k, entry in ENTRIES.items() if entry.area == "fault finding"} - used - PREDICTED - OPENING
    assert not idle


def test_no_two_faults_are_the_same_to_every_test() -> None:
    seen: dict[object, str] = {}
    for fault in FAULTS:
        same = (
            tuple(sorted(fault.shifts.items())),
            tuple(sorted((key, tuple(sorted(states.items()))) for key, states in fault.shows.items())),
        )
        assert same not in seen, f"{fault.key} and {seen.get(same)}"
        seen[same] = fault.key


def test_every_state_reading_has_its_leak() -> None:
    looks = {k for k, entry in ENTRIES.items() if entry.states and entry.area not in ("trial", "repair")}
    assert SHELF.leaks.keys() == looks
    assert all(0 < leak < 0.5 for leak in SHELF.leaks.values())


@pytest.mark.parametrize("trial", TRIALS, ids=lambda trial: trial.key)
def test_every_trial_can_be_said_and_defeats_nothing(trial: Trial) -> None:
    assert TEXTS[f"trial.{trial.key}"]
    assert TEXTS[f"trial_how.{trial.key}"].endswith(".")
    assert all(f"caution.{each}" in TEXTS for each in trial.cautions)
    assert all(f"trial_state.{state.replace(' ', '_')}" in TEXTS for state in trial.states)
    shut_off = {"high_limit_open", "high_limit_offset", "false_flame", "thermostat_offset"}
    assert not shut_off & set(trial.resets)


def test_the_two_splitters_are_there_and_the_can_stands_low() -> None:
    can, battery = SHELF.trials["good_fuel_can"], SHELF.trials["good_battery"]
    assert {"filter_restriction", "suction_air", "water", "lift"} <= set(can.resets)
    assert not {"pump_open", "nozzle_fuel_area"} & set(can.resets)
    assert {"battery_voltage", "supply_resistance", "ground_resistance"} <= set(battery.resets)
    words = TEXTS["trial_how.good_fuel_can"] + TEXTS["caution.fuel_can"]
    assert "never above the burner" in words
    assert "hot exhaust" in words
    assert "fuel_can" in can.cautions


OWN = """
[[fault]]
key = "roof_vent_taped"
system = "air"
weight = 0.5
ground = "Our own count."
severity = [0.3, 1]
shifts = { inlet_restriction = 1.0 }
shows.inlet_path = { restricted = 0.9 }
proves = ["inlet_path"]
minutes = 5
"""


def test_a_shop_adds_a_fault_and_it_is_called_by_its_key(tmp_path: Path) -> None:
    shelf = opened(tmp_path, OWN)
    assert not shelf.problems
    assert shelf.faults["roof_vent_taped"].shifts == {"inlet_restriction": 1.0}
    assert shelf.sha256 != SHELF.sha256
    told = Speaker().say(message("judging.missing", what="@fault.roof_vent_taped"))
    assert "roof vent taped" in told.lower()


def test_a_shop_says_how_often_it_meets_one(tmp_path: Path) -> None:
    shelf = opened(tmp_path, '[[weight]]\nkey = "fuse_blown"\nweight = "9"\nground = "Our count."\n')
    assert not shelf.problems
    assert (shelf.faults["fuse_blown"].weight, shelf.faults["fuse_blown"].ground) == (9.0, "Our count.")
    assert shelf.sha256 != SHELF.sha256
    assert {**shelf.faults, "fuse_blown": SHELF.faults["fuse_blown"]} == SHELF.faults


REFUSED = [
    ("inlet_restriction = 1.0", "inlet_tuft = 1.0", "“shifts” is inlet_tuft; it must be one of:"),
    ("inlet_restriction = 1.0", "fan_open = 1.5", "“shifts.fan_open” is 1.5; it must lie from 0 to 1."),
    ("inlet_restriction = 1.0", "fan_speed = nan", "which is no finite number"),
    ("inlet_path = {", "no_such = {", "“shows.no_such” names no reading of the catalogue that has states"),
    ("inlet_path = {", "flue_o2 = {", "“shows.flue_o2” names no reading of the catalogue that has states"),
    ("restricted = 0.9", "open = 0.9", "“shows.inlet_path” is open; it must be one of: restricted"),
    ("restricted = 0.9", '"seated and clear" = 0.9', "it must be one of: restricted, drawing exhaust"),
    ("restricted = 0.9", "restricted = 0.9, 'drawing exhaust' = 0.4", "add to more than 1"),
    ('proves = ["inlet_path"]', 'proves = ["inlet"]', "“proves” is inlet; it must be one of:"),
    ("weight = 0.5", "weight = 0", "“weight” is 0, which would make it impossible"),
    ("weight = 0.5", "weight = 1000", "“weight” is 1000; it must lie from 0 to 100"),
    ("severity = [0.3, 1]", "severity = [1, 0.3]", "two numbers in brackets, the mildest first"),
    ("severity = [0.3, 1]", "severity = 1", "“severity” must be two numbers in brackets"),
    ('system = "air"', 'system = "wind"', "“system” is wind; it must be one of: supply"),
    ('ground = "Our own count."\n', "", "“ground” is missing. Add it."),
    ("minutes = 5", 'minutes = 5\ncautions = ["luck"]', "“cautions” is luck; it must be one of:"),
    ("minutes = 5", 'minutes = 5\nafter = ["tea"]', "“after” is tea; it must be one of: nozzle"),
    ("roof_vent_taped", "fuse_blown", "“fuse_blown” stands on the shelf already"),
    ("minutes = 5", "minutes = 5\ncolour = 1", "“colour” means nothing here"),
]


@pytest.mark.parametrize(("old", "new", "sentence"), REFUSED, ids=[each[1] or each[2] for each in REFUSED])
def test_what_a_shop_cannot_mean_is_refused_with_its_cure(
    tmp_path: Path, old: str, new: str, sentence: str
) -> None:
    shelf = opened(tmp_path, OWN.replace(old, new))
    assert sentence in said(shelf)
    assert "faults.toml" in said(shelf)
    assert shelf.faults == SHELF.faults
    assert shelf.sha256 == SHELF.sha256


def test_a_shop_never_touches_the_trials(tmp_path: Path) -> None:
    shelf = opened(tmp_path, '[[trial]]\nkey = "bridge_the_limit"\nresets = ["high_limit_open"]\n')
    assert "“trial” means nothing here. Use one of: fault, weight." in said(shelf)
    assert shelf.trials == SHELF.trials


def test_a_weight_for_no_fault_is_refused_beside_a_good_row(tmp_path: Path) -> None:
    text = '[[weight]]\nkey = "gremlin"\nweight = 1\n[[weight]]\nkey = "fuse_blown"\nweight = 5\n'
    shelf = opened(tmp_path, text)
    assert "“key” is gremlin; it must be one of:" in said(shelf)
    assert shelf.faults["fuse_blown"].weight == 5

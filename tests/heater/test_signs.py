"""What is seen, heard and smelled: chances in the catalogue's order, and the trade's facts in them."""

from collections.abc import Mapping
from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.heater.signs import MISTAKEN, STATES, Seen, write_signs
from lightoff.shelf import open_shelf

ENTRIES = open_shelf().catalogue.entries
SOUND = {
    "asked": 1.0,
    "tried": 1.0,
    "first_try": 0.999,
    "second_try": 0.001,
    "later_try": 0.0,
    "lit": 1.0,
    "dies": 0.0,
    "delivered": 0.99,
    "line_bubbles": 0.008,
    "bubbles": 0.008,
    "smoke_number": 0.03,
    "air_ratio": 1.35,
    "drop_size_ratio": 1.0,
    "fan_runs": 1.0,
    "fan_friction": 1.0,
    "inlet_restriction": 1.0,
    "compressor_runs": 1.0,
    "intake_restriction": 1.0,
    "compressor_wear": 1.0,
    "after_run_runs": 1.0,
    "window_soot": 1.0,
    "emitted_share": 1.05,
    "tap_k": 340.0,
}
NEVER_LIT = {"first_try": 0.0, "second_try": 0.0, "lit": 0.0}


def signs(seen: Seen) -> dict[str, np.ndarray]:
    into = {key: np.full((states, seen.lit.size), np.nan) for key, states in STATES.items()}
    write_signs(seen, into)
    return into


def look(**changed: float) -> Mapping[str, dict[str, float]]:
    """Chance of each state by its name."""
    told = {each.name: np.array([changed.get(each.name, SOUND.get(each.name, 0.0))]) for each in fields(Seen)}
    return {
        key: dict(zip(ENTRIES[key].states, states[:, 0], strict=True))
        for key, states in signs(Seen(**told)).items()
    }


def likely(key: str, **changed: float) -> str:
    chances = look(**changed)[key]
    return max(chances, key=lambda state: chances[state])


def test_every_reading_has_the_catalogues_states() -> None:
    assert {key: len(states) for key, states in look().items()} == dict(STATES)
    assert all(len(ENTRIES[key].states) == count for key, count in STATES.items())


def test_a_sound_heater_shows_the_first_state_of_everything() -> None:
    for key in STATES:
        assert likely(key) == ENTRIES[key].states[0], key


shares = st.floats(0.0, 1.0)
WIDE = {
    "smoke_number": st.floats(0.0, 9.0),
    "air_ratio": st.floats(0.05, 30.0),
    "drop_size_ratio": st.floats(0.4, 6.0),
    "fan_friction": st.floats(0.3, 10.0),
    "inlet_restriction": st.floats(0.5, 30.0),
    "intake_restriction": st.floats(0.3, 20.0),
    "compressor_wear": st.floats(0.01, 1.5),
    "window_soot": st.floats(0.1, 20.0),
    "tube_soot_m": st.floats(0.0, 3e-3),
    "tap_k": st.floats(250.0, 400.0),
    "emitted_share": st.floats(0.0, 1.8),
}


@given(
    told=st.fixed_dictionaries({each.name: WIDE.get(each.name, shares) for each in fields(Seen)}),
)
def test_chances_add_to_one_and_no_look_excludes_anything(told: dict[str, float]) -> None:
    """The course's own order: a start that lit was tried, and one that was tried was asked for."""
    told["tried"] = min(told["tried"], told["asked"])
    total = told["first_try"] + told["second_try"] + told["later_try"]
    scale = told["tried"] / total if total > told["tried"] else 1.0
    for key in ("first_try", "second_try", "later_try"):
        told[key] *= scale
    told["lit"] = told["first_try"] + told["second_try"] + told["later_try"]
    for key, chances in signs(Seen(**{name: np.array([value]) for name, value in told.items()})).items():
        assert chances.sum(axis=0)[0] == pytest.approx(1.0), key
        assert np.min(chances) >= MISTAKEN / STATES[key] - 1e-12, key


def test_no_light_and_fuel_is_white_vapour_of_raw_fuel_and_a_wet_chamber() -> None:
    assert likely("smoke_colour", **NEVER_LIT) == "white"
    assert likely("exhaust_smell", **NEVER_LIT) == "of raw fuel"
    assert likely("chamber_look", **NEVER_LIT) == "wet"
    assert likely("owner_says", **NEVER_LIT) == "tries without flame"


def test_no_light_and_no_fuel_is_nothing_at_all() -> None:
    assert likely("smoke_colour", **NEVER_LIT, delivered=0.0) == "none"
    assert likely("chamber_look", **NEVER_LIT, delivered=0.0) == "dry"


def test_not_asked_for_is_no_lamp_and_nothing_runs() -> None:
    dead = {**NEVER_LIT, "asked": 0.0, "tried": 0.0}
    assert likely("igniter_lamp", **dead) == "not lit"
    assert likely("stop_step", **dead) == "at rest"
    assert likely("fan_sound", **dead) == "silent"
    assert likely("compressor_sound", **dead) == "silent"
    assert likely("owner_says", **dead) == "does nothing"


@pytest.mark.parametrize(
    ("key", "state", "changed"),
    [
        ("stop_step", "running", {"dies": 1.0}),
        ("stop_step", "igniter heating", {**NEVER_LIT, "tried": 0.0}),
        ("stop_step", "trial", NEVER_LIT),
        ("owner_says", "lights then dies", {"dies": 1.0}),
        ("owner_says", "smokes or smells", {"smoke_number": 5.0}),
        ("owner_says", "gives little heat", {"emitted_share": 0.1}),
        ("owner_says", "gives no hot water", {"tap_k": 288.0}),
        ("owner_says", "is noisy", {"fan_friction": 3.5}),
        ("smoke_colour", "grey", {"smoke_number": 4.0}),
        ("smoke_colour", "black", {"smoke_number": 7.0}),
        ("flame_look", "pulsing", {"bubbles": 0.4}),
        ("flame_look", "lopsided", {"lopsided": 1.0}),
        ("air_bubbles", "many", {"line_bubbles": 0.4}),
        ("fan_sound", "scraping", {"fan_friction": 3.0}),
        ("fan_sound", "silent", {"fan_runs": 0.0}),
        ("compressor_sound", "rattling", {"compressor_wear": 0.4}),
        ("drip_after_stop", "drips", {"drip": 0.8}),
        ("drip_after_stop", "drips", {"weep": 0.8}),
        ("after_run", "did not run", {"after_run_runs": 0.0}),
        ("window_look", "sooted", {"window_soot": 6.0}),
        ("burn_tube_look", "heavy soot", {"tube_soot_m": 1.4e-3}),
        ("burn_tube_look", "cracked", {"tube_crack": 0.9}),
        ("coolant_level", "empty", {"coolant_low": 0.9}),
        ("coolant_level", "low", {"coolant_low": 0.4}),
        ("zone_heat", "none warm", {"emitted_share": 0.05}),
        ("zone_heat", "some warm", {"zone_shut": 0.6, "emitted_share": 0.5}),
        ("hot_water", "lukewarm", {"tap_k": 308.0}),
        ("hot_water", "cold", {"tap_k": 285.0}),
    ],
)
def test_what_each_trouble_shows(key: str, state: str, changed: dict[str, float]) -> None:
    assert likely(key, **changed) == state


def test_a_good_flame_is_bright_with_no_visible_smoke() -> None:
    assert likely("flame_look") == "bright and steady"
    assert likely("smoke_colour") == "none"

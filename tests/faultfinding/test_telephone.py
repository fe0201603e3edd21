"""A call to the owner before travelling: few questions, exactly one ending, no third start."""

from __future__ import annotations

import numpy as np
import pytest
from calls import called, whole_call

from lightoff.faultfinding import Posterior
from lightoff.faultfinding.asking import ONCE_MORE
from lightoff.faultfinding.telephone import (
    ANSWERED_BY_OWNERS,
    DANGEROUS,
    DANGERS,
    MENDED_BY_OWNERS,
    MOST_QUESTIONS,
    Ends,
    parts_to_carry,
)
from lightoff.shelf import Shelf
from lightoff.texts.speaker import templates

OWNERS: tuple[dict[str, str | int | None], ...] = (
    {"owner_says": "does nothing"},
    {"owner_says": "does nothing", "panel_switch": "off"},
    {"owner_says": "tries without flame", "trials_without_flame": 3},
    {"owner_says": "tries without flame", "fuel_at_pickup": "tank empty"},
    {"owner_says": "lights then dies", "last_work": "fuel filter"},
    {
        "owner_says": "lights then dies",
        "last_good_run": "last season",
        "starts_tried": 1,
        "fuel_smell": "none",
    },
    {"owner_says": "smokes or smells", "smoke_colour": "black", "place_height": "much higher"},
    {"owner_says": "gives little heat", "zone_heat": "some warm"},
    {"owner_says": "gives no hot water"},
    {"owner_says": "runs well"},
    {},
)


@pytest.mark.parametrize("knows", OWNERS, ids=str)
def test_a_call_asks_a_handful_and_ends_in_exactly_one_way(
    shelf: Shelf, knows: dict[str, str | int | None]
) -> None:
    asked, end = whole_call(shelf, knows)
    assert len(asked) == len(set(asked)) <= MOST_QUESTIONS
    assert set(asked) <= ANSWERED_BY_OWNERS
    assert asked[0] == "fumes_inside", "danger is asked for first"
    assert end.question is None
    assert end.ending is not None
    assert (end.ending.ends is Ends.TRY) == bool(end.ending.fault)
    assert (end.ending.ends is Ends.STOP) == bool(end.ending.danger)
    if end.ending.parts:
        assert end.ending.ends is Ends.COME
        assert 0.4 < end.ending.covered < 1.0
        assert len(end.ending.parts) <= 9


@pytest.mark.parametrize("key", sorted(DANGERS))
def test_danger_ends_the_call_at_once(shelf: Shelf, key: str) -> None:
    for state in DANGERS[key]:
        _, now = called(shelf, {key: state})
        assert now.ending is not None
        assert (now.ending.ends, now.ending.danger) == (Ends.STOP, key)
        assert now.ending.no_start


def test_a_dangerous_suspect_ends_it_too(shelf: Shelf) -> None:
    said: dict[str, str | int | None] = {"fumes_inside": "none", "owner_says": "smokes or smells"}
    _, now = called(shelf, said | {"last_work": "nothing", "exhaust_outlet_look": "blocked"})
    assert now.ending is not None
    assert (now.ending.ends, now.ending.danger) == (Ends.STOP, "exhaust_blocked")


@pytest.mark.parametrize(
    ("knows", "fault"),
    [
        ({"owner_says": "does nothing", "panel_switch": "off"}, "switch_off"),
        ({"owner_says": "does nothing", "thermostat_set": "below the room"}, "thermostat_satisfied"),
        ({"owner_says": "does nothing", "charger": "off"}, "battery_weak"),
    ],
)
def test_what_an_owner_can_put_right_spares_the_trip(
    shelf: Shelf, knows: dict[str, str | int | None], fault: str
) -> None:
    asked, end = whole_call(shelf, knows)
    assert end.ending is not None
    assert (end.ending.ends, end.ending.fault) == (Ends.TRY, fault)
    assert len(asked) <= MOST_QUESTIONS
    # It did not help: that is not asked for again.
    _, after = whole_call(shelf, knows | {f"repair_{fault}": "no change"})
    assert after.ending is not None
    assert after.ending.fault != fault
    # It helped: the call says so.
    _, mended = whole_call(shelf, knows | {f"repair_{fault}": "runs well"})
    assert mended.ending is not None
    assert (mended.ending.fault, mended.ending.helped) == (fault, True)


@pytest.mark.parametrize(
    "said",
    [
        {"owner_says": "tries without flame"},
        {"owner_says": "tries without flame", "trials_without_flame": 2},
    ],
    ids=str,
)
def test_nobody_is_asked_for_a_start_after_starts_without_flame(
    shelf: Shelf, said: dict[str, str | int | None]
) -> None:
    """An owner can fill a tank, and yet: after failed starts somebody looks into the chamber first."""
    asked, end = whole_call(shelf, said | {"fuel_at_pickup": "tank empty"})
    assert end.ending is not None
    assert end.ending.ends is not Ends.TRY
    assert end.ending.no_start
    if "owner_says" in asked and said["owner_says"] == "tries without flame":
        assert asked[3] == "trials_without_flame"


def test_a_start_that_a_technician_saw_fail_counts_too(shelf: Shelf) -> None:
    said: dict[str, str | int | None] = {"fumes_inside": "none", "owner_says": "does nothing"}
    _, now = called(shelf, said | {"last_work": "nothing", "light_off": "did not light"})
    assert now.question is not None
    assert now.question.key == "trials_without_flame"


STOOD: dict[str, str | int | None] = {
    "owner_says": "lights then dies",
    "last_good_run": "last season",
    "starts_tried": 1,
    "fuel_smell": "none",
}
"""It stood over the summer, was started once, lit and died."""


@pytest.mark.parametrize("owner_says", ["lights then dies", "gives little heat", "does nothing"])
def test_the_last_good_run_is_asked_where_it_changes_what_is_expected(shelf: Shelf, owner_says: str) -> None:
    """A line that ran empty puts a flame out; it explains no cold zone and no dead panel."""
    _, now = called(shelf, {"fumes_inside": "none", "owner_says": owner_says, "last_work": "nothing"})
    assert now.question is not None
    assert (now.question.key == "last_good_run") == (owner_says == "lights then dies")


def test_after_a_long_standing_it_is_started_once_more(shelf: Shelf) -> None:
    asked, end = whole_call(shelf, STOOD)
    assert end.ending is not None
    assert (end.ending.ends, end.ending.fault) == (Ends.TRY, ONCE_MORE)
    assert {"last_good_run", "starts_tried", "fuel_smell"} <= set(asked)
    for state in ("this week", "within a month", "not since the service", None):
        _, other = whole_call(shelf, STOOD | {"last_good_run": state})
        assert other.ending is not None
        assert other.ending.ends is not Ends.TRY, state


@pytest.mark.parametrize(
    "against",
    [
        {"starts_tried": 2},
        {"starts_tried": None},
        {"fuel_smell": "faint"},
        {"fuel_smell": None},
        {"smoke_colour": "white"},
        {"exhaust_smell": "of raw fuel"},
        {"trials_without_flame": 2},
        {"light_off": "did not light"},
        {"chamber_look": "wet"},
        {"fumes_inside": "alarm sounded"},
        {"fuel_smell": "strong"},
        {"start_once_more": "no change"},
    ],
    ids=str,
)
def test_nobody_starts_it_a_third_time_nor_where_fuel_may_lie(
    shelf: Shelf, against: dict[str, str | int | None]
) -> None:
    said: dict[str, str | int | None] = {"fumes_inside": "none", "last_work": "nothing"}
    _, before = called(shelf, said | STOOD | {"fuel_at_pickup": "above the pick-up"})
    _, now = called(shelf, said | STOOD | {"fuel_at_pickup": "above the pick-up"} | against)
    assert before.ending is not None
    assert before.ending.ends is Ends.TRY
    assert now.ending is None or now.ending.ends is not Ends.TRY
    assert now.question is None or now.question.key not in {"starts_tried", "fuel_smell"}


def test_a_cause_that_is_mended_with_a_start_counts_the_starts_too(shelf: Shelf) -> None:
    """A tank that is filled up is no leave for a third start."""

    def ends(**more: str | int | None) -> tuple[Ends, str]:
        said = STOOD | {"fumes_inside": "none", "last_work": "nothing", "last_good_run": "this week"}
        _, now = called(shelf, said | {"fuel_at_pickup": "below the pick-up"} | more)
        return (now.ending.ends, now.ending.fault) if now.ending else (Ends.COME, "")

    assert ends() == (Ends.TRY, "pickup_uncovered")
    assert ends(starts_tried=2)[0] is Ends.COME
    assert ends(repair_battery_weak="no change")[0] is Ends.COME, "that start was the second"
    assert ends(fuel_smell="faint")[0] is Ends.COME


def test_a_start_once_more_that_changed_nothing_leaves_no_drained_line(shelf: Shelf) -> None:
    said = {"fumes_inside": "none", "last_work": "nothing"} | STOOD
    before, _ = called(shelf, said)
    after, _ = called(shelf, said | {"start_once_more": "no change"})
    fresh, _ = called(shelf, said | {"last_good_run": "this week"})
    assert before.finding.stood_long
    assert before.finding.sound > 5.0 * after.finding.sound
    assert after.finding.suspects == fresh.finding.suspects
    _, helped = called(shelf, said | {"start_once_more": "runs well"})
    assert helped.ending is not None
    assert (helped.ending.fault, helped.ending.helped) == (ONCE_MORE, True)


def test_of_a_sound_heater_no_parts_are_carried(shelf: Shelf) -> None:
    _, end = whole_call(shelf, {"owner_says": "runs well"})
    assert end.ending is not None
    assert (end.ending.ends, end.ending.parts) == (Ends.COME, ())


def laid(shares: dict[tuple[str, ...], float]) -> Posterior:
    """A posterior of these suspicions alone."""
    return Posterior(sets=tuple(shares), chances=np.array(list(shares.values())), log_score=0.0, weighed=())


def test_parts_are_carried_until_they_cover_nine_tenths(shelf: Shelf) -> None:
    found = laid({
        ("igniter_open",): 0.50, ("igniter_weak",): 0.10, ("nozzle_worn",): 0.22,
        ("switch_off",): 0.10, ("fuel_pump_weak",): 0.06, ("compressor_weak",): 0.02,
    })  # fmt: skip
    parts, covered = parts_to_carry(found, shelf.faults)
    assert parts == ("igniter", "nozzle")
    assert covered == pytest.approx(0.92)  # the switch needs no part
    assert parts_to_carry(found, shelf.faults, least=0.999, worth=0.0)[0] == (
        *parts,
        "fuel_pump",
        "compressor",
    )


def test_what_mends_hardly_anything_or_is_ordered_first_stays_at_home(shelf: Shelf) -> None:
    found = laid({
        ("set_for_lower_place",): 0.60, ("igniter_open",): 0.10, ("jacket_leaking",): 0.12,
        ("engine_exchanger_leaking", "igniter_weak"): 0.08, ("nozzle_worn",): 0.03, ("fan_worn",): 0.07,
    })  # fmt: skip
    parts, covered = parts_to_carry(found, shelf.faults)
    assert parts == ("igniter", "fan")
    assert covered == pytest.approx(0.77)


def test_scale_is_dissolved_and_no_exchanger_carried(shelf: Shelf) -> None:
    knows = {"owner_says": "gives no hot water", "hot_water": "lukewarm", "stop_step": "did not stop"}
    _, end = whole_call(shelf, knows)
    assert end.ending is not None
    assert "descaler" in end.ending.parts
    assert "hot_water_exchanger" not in end.ending.parts


def test_smoke_at_height_asks_for_no_new_parts(shelf: Shelf) -> None:
    knows = {"owner_says": "smokes or smells", "smoke_colour": "black", "place_height": "much higher"}
    _, end = whole_call(shelf, knows | {"exhaust_smell": "sharp", "burner_sound": "rumble"})
    assert end.ending is not None
    assert (end.ending.ends, end.ending.parts) == (Ends.COME, ())


@pytest.mark.parametrize("owner_says", ["lights then dies", "tries without flame"])
def test_whether_there_is_fuel_is_asked_of_every_heater_that_tries_or_dies(
    shelf: Shelf, owner_says: str
) -> None:
    asked, end = whole_call(shelf, {"owner_says": owner_says, "fuel_at_pickup": "below the pick-up",
                                    "last_good_run": "within a month", "starts_tried": 1,
                                    "fuel_smell": "none", "trials_without_flame": 1})  # fmt: skip
    assert "fuel_at_pickup" in asked
    assert len(asked) <= MOST_QUESTIONS
    assert end.ending is not None
    tries = Ends.TRY if owner_says == "lights then dies" else Ends.COME
    assert end.ending.ends is tries, "after a try without a flame nobody is asked to start it"


def test_of_two_faults_both_parts_are_needed(shelf: Shelf) -> None:
    found = laid(
        {("igniter_open", "fuel_pump_weak"): 0.6, ("nozzle_worn",): 0.3, (): 0.05, ("unknown",): 0.05}
    )
    parts, covered = parts_to_carry(found, shelf.faults)
    assert sorted(parts) == ["fuel_pump", "igniter", "nozzle"]
    assert covered == pytest.approx(1.0), "soundness and the unknown are counted out"
    assert parts_to_carry(laid({(): 1.0}), shelf.faults) == ((), 0.0)


def test_every_cause_and_word_of_a_call_is_on_the_shelf(shelf: Shelf) -> None:
    words = templates("en")
    for key in (*MENDED_BY_OWNERS, ONCE_MORE):
        assert key == ONCE_MORE or shelf.faults[key].operating
        assert f"telephone_try.{key}" in words
        assert "third start" not in words[f"telephone_try.{key}"]
    assert set(shelf.faults) >= DANGEROUS
    for key, states in DANGERS.items():
        assert states <= set(shelf.catalogue.entries[key].states)
    for key in ANSWERED_BY_OWNERS:
        entry = shelf.catalogue.entries[key]
        assert entry.opens in ("", "electric")  # a switch is looked at
        assert set(entry.classes) <= {"eyes", "stopwatch"}


def test_every_question_has_words_of_its_own_that_ask_for_no_start() -> None:
    """Read aloud to an owner, "switch on and see" would be a start: he is asked what he remembers."""
    words = templates("en")
    asked = {key.removeprefix("telephone_ask.") for key in words if key.startswith("telephone_ask.")}
    assert asked == set(ANSWERED_BY_OWNERS)
    for key in asked:
        text = words[f"telephone_ask.{key}"].lower()
        assert not [each for each in ("switch on", "switch it", "start it", "reset it") if each in text], key


def test_no_words_to_an_owner_ask_for_more_than_one_start() -> None:
    for key, text in templates("en").items():
        if key.startswith("telephone_try."):
            assert text.lower().count("switch it on") + text.lower().count("switch the heater on") <= 1, key
            assert "again" not in text

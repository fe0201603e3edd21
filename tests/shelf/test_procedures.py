"""Procedures: what ships says all that is easily forgotten, and no edit of a shop takes a guard away."""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from lightoff.ground.errors import Refusal
from lightoff.shelf import Shelf, open_shelf
from lightoff.shelf.files import Table
from lightoff.shelf.procedures import WORDS, checked
from lightoff.terms.procedure import Phase, Photo, Procedure, ProcedureStep, Timer
from lightoff.terms.visit import Stage
from lightoff.texts import Speaker
from lightoff.texts.speaker import templates

SHIPPED = open_shelf()
TEXTS = templates("en")
STEPS = {each.key: each for procedure in SHIPPED.procedures.values() for each in procedure.steps}
NAMES = (
    "annual_service",
    "pre_season_check",
    "no_heat_call",
    "after_storage_start",
    "commissioning",
    "winter_decommissioning",
)
# The card's sections in the order of the work: the smoke spot before the analyser.
SECTIONS = (
    "arrive", "found", "work", "light", "smoke", "flue_1", "flue_2", "living_space", "electrical", "warm_up",
    "fuel_rate", "close", "hand_over",
)  # fmt: skip


def keys(name: str) -> list[str]:
    return [each.key for each in SHIPPED.procedures[name].steps]


def words(key: str) -> str:
    return " ".join(TEXTS.get(f"step.{key}.{name}", "") for name in WORDS)


def said(shelf: Shelf) -> str:
    return " ".join(Speaker().say(each.message) for each in shelf.problems)


def shop(folder: Path, *, procedure: str = "", steps: str = "") -> Shelf:
    (folder / "procedures").mkdir()
    (folder / "procedures" / "own.toml").write_text(procedure, encoding="utf-8")
    (folder / "steps.toml").write_text(steps, encoding="utf-8")
    return open_shelf(folder)


def test_the_six_ship() -> None:
    assert set(SHIPPED.procedures) == set(NAMES)


@pytest.mark.parametrize("step", STEPS.values(), ids=lambda step: step.key)
def test_each_step_has_its_words_and_says_where_it_is_from(step: ProcedureStep) -> None:
    assert step.source == "common practice, no source; the maker's manual rules"
    assert {f"step.{step.key}.title", f"step.{step.key}.why"} <= TEXTS.keys()
    assert all(f"caution.{each}" in TEXTS for each in step.cautions)
    assert all(f"tool.{each}" in TEXTS or each in SHIPPED.catalogue.classes for each in step.tools)
    assert all(each in SHIPPED.catalogue.classes for each in step.needs)
    assert all(f"state.{each.replace(' ', '_')}" in TEXTS for each in step.states)
    assert step.minutes > 0


def test_no_text_speaks_of_a_step_that_is_none() -> None:
    spoken = {key.split(".")[1] for key in TEXTS if key.startswith("step.")}
    assert spoken == set(STEPS)


@pytest.mark.parametrize("name", NAMES)
def test_steps_stand_in_the_order_of_phases_and_of_the_card(name: str) -> None:
    steps = SHIPPED.procedures[name].steps
    phases = [list(Phase).index(each.phase) for each in steps]
    assert phases == sorted(phases)
    sections = [SECTIONS.index(each.section) for each in steps]
    assert sections == sorted(sections)


@pytest.mark.parametrize("name", NAMES)
def test_every_procedure_carries_the_cautions_of_the_trade(name: str) -> None:
    procedure = SHIPPED.procedures[name]
    cautions = {caution for each in procedure.steps for caution in each.cautions}
    assert {
        "monoxide",
        "fuel",
        "blast",
        "electric",
        "coolant",
        "hot",
        "eyes",
        "waste",
        "practice",
    } <= cautions
    required = {each.key for each in procedure.steps if each.required}
    assert {
        "ventilate",
        "extinguisher",
        "co_alarm_check",
        "exhaust_end_to_end",
    } <= required
    assert {"isolate", "let_cool", "waste_away", "alarm_missing"} <= required
    assert "manual_and_codes" in {each.key for each in procedure.steps}


def test_where_cleaner_is_used_it_dries_and_is_free_of_chlorine() -> None:
    for procedure in SHIPPED.procedures.values():
        used = [each.key for each in procedure.steps if "chlorine_free_cleaner" in each.tools]
        assert not used or "solvent_dry" in [each.key for each in procedure.steps if each.required]
    assert "solvent" in STEPS["clean_nozzle"].cautions
    assert "poisonous gas" in words("solvent_dry")
    assert STEPS["solvent_dry"].holds == {"solvent_dry": ("still damp",)}


def test_the_smoke_spot_comes_before_the_analyser_and_the_probe_goes_deep() -> None:
    for name in NAMES:
        order = keys(name)
        for smoke, flue in (("smoke_found", "flue_found"), ("smoke_left", "flue_set_1")):
            if flue in order:
                assert order.index(smoke) < order.index(flue)
    assert all("deep" in words(key) for key in ("flue_found", "flue_set_1", "smoke_found"))


@pytest.mark.parametrize("name", [each for each in NAMES if SHIPPED.procedures[each].proves_first])
def test_it_is_proved_before_anything_is_opened(name: str) -> None:
    steps = SHIPPED.procedures[name].steps
    proved = next(index for index, each in enumerate(steps) if each.fires and each.required)
    touched = [index for index, each in enumerate(steps) if each.opens or each.displaces]
    assert proved < min(touched)


def test_fuel_joints_are_wiped_dry_and_looked_at_twice() -> None:
    order = keys("annual_service")
    places = [order.index(each) for each in ("joints_dry", "fire_again", "joints_1_min", "joints_10_min")]
    assert places == sorted(places)
    assert all(STEPS[each].required for each in ("joints_dry", "joints_1_min", "joints_10_min"))


@pytest.mark.parametrize(
    ("key", "facts"),
    [
        ("call_for_heat", ["open a hot tap", "run all fans", "proves nothing"]),
        ("exhaust_end_to_end", ["holes", "clamps", "drain", "fuel line and wiring", "windows", "nests"]),
        ("co_alarm_check", ["date", "test button"]),
        ("isolate", ["shore lead out", "inverter off", "generator", "battery off", "prove dead"]),
        ("waste_away", ["fuel and coolant", "litres", "where they went"]),
        ("teach_owner", ["two tries, then call", "switch, fuse and fuel shut-off", "owner starts it once"]),
        ("store_caps", ["inlet and outlet capped", "red tag"]),
        ("remove_caps", ["caps", "red tags"]),
        ("store_fuel", ["topped up and treated"]),
        ("store_exercise", ["monthly exercise run"]),
        ("nozzle_apart", ["over a bench", "distributor inside falls out"]),
        ("clean_nozzle", ["grooves and bores", "never poke the orifice"]),
        ("nozzle_together", ["stem upright", "straight in", "hole through the tip", "do not cross-thread"]),
        ("nozzle_in", ["wet the seal with fuel", "finger tight to its seat, then snug"]),
        ("renew_fuel_filter", ["fill the new spin-on filter", "before fitting"]),
        ("fuel_filter_on", ["hand tight, then half to three quarters of a turn"]),
        ("intake_filter_on", ["plastic head finger tight, then about half a turn", "cracks"]),
        ("tighten_screws", ["finger tight, then at most a quarter turn", "strips"]),
        ("pull_igniter_connector", ["brittle", "straight"]),
        ("igniter_in_flange", ["flat u must face the spray", "brittle"]),
        ("igniter_in_nut", ["flat u must face the spray", "brittle"]),
        ("igniter_connector_on", ["both halves", "pin can be pushed back"]),
        ("look_tube", ["with a light", "if there is build-up, the tube comes out", "tube and jacket"]),
        ("window_side", ["on the side of the cover's window"]),
        ("inlet_tube_down", ["down in its seat"]),
        ("no_wire_pinched", ["no wire pinched under the cover"]),
        ("close_cover", ["started by hand"]),
        ("record_stamp", ["date of their last renewal"]),
        ("renew_igniter", ["not a yearly item", "becomes the spare"]),
        ("spare_igniter", ["spare igniter stays aboard"]),
        ("bleed_fuel", ["by bleeding, not by repeated starts"]),
        ("dry_wet_chamber", ["blast", "two tries at most"]),
        ("after_run_wait", ["until the fan stops by itself"]),
        ("phone_people", ["who sleeps aboard"]),
    ],
)
def test_facts_of_the_trade_stand_at_their_step(key: str, facts: list[str]) -> None:
    assert [each for each in facts if each not in words(key).lower()] == []


def test_each_annual_part_is_renewed_in_the_annual_service_without_being_due() -> None:
    renewed = {each.part for each in SHIPPED.procedures["annual_service"].steps if not each.only_if_due}
    annual = {each.key for each in SHIPPED.part_types.values() if each.annual}
    assert annual <= renewed
    assert STEPS["renew_igniter"].only_if_due


def test_caps_of_the_winter_come_off_before_the_first_fire() -> None:
    for name in ("pre_season_check", "after_storage_start", "commissioning"):
        step = next(each for each in SHIPPED.procedures[name].steps if each.key == "remove_caps")
        assert step.required
        assert keys(name).index("remove_caps") < keys(name).index(
            next(k for k in keys(name) if STEPS[k].fires)
        )
    assert STEPS["store_caps"].required


def test_readings_are_as_found_before_the_work_and_as_left_after() -> None:
    stages = {
        each.key: {r.stage for r in each.readings} for each in SHIPPED.procedures["annual_service"].steps
    }
    assert stages["smoke_found"] == stages["look_tube"] == {Stage.AS_FOUND}
    assert stages["smoke_left"] == stages["after_run_again"] == {Stage.AS_LEFT}


def test_what_stops_a_firing_comes_from_the_limits_table() -> None:
    stops = SHIPPED.procedures["annual_service"].stops
    assert stops["chamber_look"] == ("wet",)
    assert stops["exhaust_path"] == ("leaking inside", "blocked")


OWN_STEP = """
[[step]]
key = "grease_hinge"
title = "Grease the hinge of the bay"
why = "Ours squeaks."
tools = ["grease"]
minutes = 2
"""


def test_a_shop_adds_a_step_and_leaves_one_out(tmp_path: Path) -> None:
    text = """
key = "our_annual"
extends = "annual_service"
title = "Annual service, our way"
leave_out = ["look_wiring", "tube_out"]

[[add]]
step = "grease_hinge"
after = "supply_on"
"""
    shelf = shop(tmp_path, procedure=text, steps=OWN_STEP)
    assert not said(shelf)
    own = [each.key for each in shelf.procedures["our_annual"].steps]
    assert own[own.index("supply_on") + 1] == "grease_hinge"
    assert not {"look_wiring", "tube_out", "tube_in"} & set(own)
    assert shelf.procedures["annual_service"] == SHIPPED.procedures["annual_service"]
    speaker = Speaker(own=shelf.own_words)
    assert speaker.text("step.grease_hinge.title") == "Grease the hinge of the bay"
    assert speaker.text("procedure.our_annual.title") == "Annual service, our way"


def test_a_shipped_procedure_can_be_changed_in_place_and_says_so(tmp_path: Path) -> None:
    shelf = shop(tmp_path, procedure='extends = "annual_service"\nleave_out = ["look_wiring"]\n')
    assert not said(shelf)
    changed = shelf.procedures["annual_service"]
    assert changed.version.endswith("+shop")
    assert changed.sha256 != SHIPPED.procedures["annual_service"].sha256


@pytest.mark.parametrize(
    "key", [each.key for each in SHIPPED.procedures["annual_service"].steps if each.required]
)
def test_no_required_step_can_be_left_out(tmp_path: Path, key: str) -> None:
    shelf = shop(tmp_path, procedure=f'extends = "annual_service"\nleave_out = ["{key}"]\n')
    assert f"“{key}” is a required step and cannot be left out." in said(shelf)
    assert shelf.procedures == SHIPPED.procedures


def added(step: str, after: str) -> str:
    return f'extends = "annual_service"\n[[add]]\nstep = "{step}"\nafter = "{after}"\n'


OPENING = OWN_STEP + 'opens = "fuel"\n'


@pytest.mark.parametrize(
    ("procedure", "steps", "sentence"),
    [
        (added("grease_hinge", "first_look"), OPENING, "“isolate” must come before “grease_hinge”"),
        (added("grease_hinge", "supply_on"), OPENING, "(fuel) after “supply_on” has made it live"),
        (added("grease_hinge", "first_look"), OWN_STEP + "displaces = true\n", "displaces is never put back"),
        (added("grease_hinge", "phone_fuel"), OWN_STEP + "fires = true\n", "in the phase “before_travel”"),
        (added("grease_hinge", "isolate"), OWN_STEP + "fires = true\n", "fires in the phase “shut_down”"),
        (added("grease_hinge", "look_before_firing"), OWN_STEP + "fires = true\n", "“meter_inside” must"),
        (added("isolate", "first_look"), "", "“isolate” stands on the shelf already"),
        ('extends = "annual_service"\nleave_out = ["nozzle_in"]\n', "", "Leave both out, or neither"),
        ('extends = "annual"\n', "", "“extends” is annual; it must be one of: after_storage_start"),
        ('key = "no_heat_call"\nextends = "annual_service"\n', "", "“no_heat_call” stands on"),
        ('key = "mine"\nextends = "annual_service"\n', "", "“title” is missing. Add it."),
        ("", OWN_STEP + "required = true\nonly_if_due = true\n", "a required step is always there"),
        ("", OWN_STEP + 'puts_back = "look_tube"\n', "“puts_back” is look_tube; it must be one of:"),
        ("", OWN_STEP + 'guards = ["tea"]\n', "“guards” is tea; it must be one of: fuel"),
        ("", OWN_STEP + 'only_findings = { nozzle_look = ["odd"] }\n', "one of: clean, carboned, worn"),
        ("", OWN_STEP + 'only_findings = { flue_o2 = ["odd"] }\n', "names no reading of the catalogue"),
        ("", OWN_STEP + 'cautions = ["tea"]\n', "“cautions” is tea; it must be one of:"),
        ("", OWN_STEP + 'timer = "egg"\n', "“timer” is egg; it must be one of: none, light_off, after_run"),
        ("", OWN_STEP + 'timer = "after_run"\n', "takes the reading “after_run_time”"),
        ("", OWN_STEP + 'photo = "after"\nphoto_of = "clean_nozzle"\n', "“photo_of” is clean_nozzle; it"),
        ("", OWN_STEP + 'states = ["dry"]\ngrouped = true\nguards = ["fuel"]\n', "a grouped answer is for"),
        ("", OWN_STEP + 'states = ["dry"]\ngrouped = true\nphoto = "after"\n', "a grouped answer is for"),
        ("", OWN_STEP.replace("minutes = 2", ""), "“minutes” is missing. Add it."),
        ("", OWN_STEP.replace('"grease_hinge"', '"isolate"'), "“isolate” stands on the shelf already"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_said_and_what_ships_stands(
    tmp_path: Path, procedure: str, steps: str, sentence: str
) -> None:
    shelf = shop(tmp_path, procedure=procedure, steps=steps)
    assert sentence in said(shelf)
    assert shelf.procedures == SHIPPED.procedures


TABLE = Table(file="own.toml", place="file", values={})


def changed(*, without: str = "", swapped: tuple[str, str] | None = None) -> Procedure:
    procedure = SHIPPED.procedures["annual_service"]
    steps = [each for each in procedure.steps if each.key != without]
    if swapped is not None:
        one, other = ([each.key for each in steps].index(key) for key in swapped)
        steps[one], steps[other] = steps[other], steps[one]
    return replace(procedure, steps=tuple(steps))


@pytest.mark.parametrize(
    ("procedure", "key"),
    [
        (changed(without="isolate"), "shelf.opened_unguarded"),
        (changed(without="nozzle_in"), "shelf.never_put_back"),
        (changed(without="prove_fires"), "shelf.not_proved_first"),
        (changed(swapped=("after_run_wait", "isolate")), "shelf.guard_after"),
        (changed(swapped=("joints_dry", "fire_again")), "shelf.guard_after"),
        (changed(swapped=("ventilate", "prove_fires")), "shelf.guard_after"),
        (changed(swapped=("isolate", "nozzle_out")), "shelf.guard_after"),
        (changed(swapped=("nozzle_out", "nozzle_in")), "shelf.put_back_first"),
    ],
)
def test_a_dangerous_order_is_refused(procedure: Procedure, key: str) -> None:
    with pytest.raises(Refusal) as refused:
        checked(TABLE, procedure, left_as_it_is=())
    assert refused.value.message.key == key


SAFETY = (
    *("monoxide", "fuel", "battery", "electric", "hot", "coolant", "solvent", "blast", "waste", "eyes"),
    "practice",
)
"""Cautions that are often left out: each has a step of its own that no answer given for others takes."""


@pytest.mark.parametrize("name", SHIPPED.procedures)
def test_each_caution_has_a_step_that_is_answered_by_itself(name: str) -> None:
    steps = SHIPPED.procedures[name].steps
    told = {each for step in steps for each in step.cautions}
    by_itself = {each for step in steps if step.needs_own_answer for each in step.cautions}
    assert told & set(SAFETY) == by_itself & set(SAFETY)


def test_what_carries_safety_or_asks_something_is_answered_by_itself() -> None:
    steps = {each.key: each for one in SHIPPED.procedures.values() for each in one.steps}
    for each in steps.values():
        asks = each.readings or each.photo.value != "none" or each.timer.value != "none"
        safety = each.required or each.guards or each.holds or each.fires
        assert each.needs_own_answer or not (asks or safety), each.key
    routine = [each.key for each in SHIPPED.procedures["annual_service"].steps if not each.needs_own_answer]
    assert {"renew_nozzle_filter", "nozzle_in", "intake_filter_on"} <= set(routine), "or no tap is saved"
    assert not {"ventilate", "co_alarm_check", "isolate", "let_cool", "solvent_dry", "joints_dry"} & set(
        routine
    )


def test_photographs_are_asked_before_and_after() -> None:
    asked = {each.photo for each in SHIPPED.procedures["annual_service"].steps}
    assert asked == set(Photo)


def test_every_light_off_and_after_run_is_timed_at_its_step() -> None:
    for step in STEPS.values():
        taken = {each.key for each in step.readings}
        assert (step.timer is Timer.LIGHT_OFF) == ("time_to_light" in taken)
        assert (step.timer is Timer.AFTER_RUN) == ("after_run_time" in taken)
    assert all(each.reading in SHIPPED.catalogue.entries for each in Timer if each is not Timer.NONE)


def test_the_examples_of_the_handbook_are_taken(tmp_path: Path) -> None:
    page = (Path(__file__).parents[2] / "docs" / "procedures.md").read_text(encoding="utf-8")
    steps, procedure, parts = re.findall(r"```toml\n(.*?)```", page, flags=re.DOTALL)
    (tmp_path / "part_types.toml").write_text(parts, encoding="utf-8")
    shelf = shop(tmp_path, procedure=procedure, steps=steps)
    assert not said(shelf)
    assert {"drip_tray_look", "renew_drip_mat"} <= {
        each.key for each in shelf.procedures["boat_annual"].steps
    }
    assert "drip_mat" in shelf.part_types

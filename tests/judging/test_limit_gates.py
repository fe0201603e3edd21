"""Limit gates where two readings, tests or rows meet; each case found by a changed line that got past."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from cases import AS_FOUND, AS_LEFT, METER, PROBE, Draft, at, good, limits, sheet, shelf

from lightoff.judging.assess import assess
from lightoff.judging.assessment import GateResult
from lightoff.judging.limit_gates import Rows
from lightoff.judging.verdict import judge
from lightoff.terms.shelf import Comparison, Limit, Limits
from lightoff.texts import Speaker

FOUND: dict[str, Any] = {"stage": AS_FOUND, "test": "found"}
STOP, OUTSIDE, NOT_PROVEN, WITHIN = "stop", "outside limits", "not proven", "within limits"


def gate(draft: Draft, name: str, **facts: Any) -> GateResult:
    result = judge(draft.case(), **(draft.facts() | facts))
    return next(each for each in result.gates if each.gate == name)


def says(draft: Draft, name: str) -> str:
    return Speaker().say(gate(draft, name).said).replace("\u00a0", " ")


def read(draft: Draft, *ids: str) -> list[str]:
    """The readings of these ids, as "flue_co 2"."""
    by_id = {each.id: f"{each.key} {each.set_number or ''}".strip() for each in draft.readings}
    return [by_id[each] for each in ids]


def counted(draft: Draft, name: str) -> tuple[str, list[str]]:
    """Which figure a gate counted, of which readings."""
    number = gate(draft, name).counted
    assert number is not None
    return number.figure, read(draft, *number.readings)


def table(*rows: Limit) -> Limits:
    return replace(limits(), rows=dict(limits().rows) | {row.key: row for row in rows})


def left() -> Draft:
    """The good case without a burn as found, which stops."""
    return good().drop("flue_o2", of=AS_FOUND).drop("flue_co", of=AS_FOUND)


def late(draft: Draft, key: str, **more: Any) -> Draft:
    """Entered after the visit was closed: doubted, and still to be read."""
    draft.closed_at = at(120)
    return draft.edit(key, entered_at=at(130), **more)


# --- The rows -------------------------------------------------------------------------------------


def rows(**tightens: str) -> Rows:
    return Rows(limits=limits(), sheet=sheet(**tightens), kind="coach")


def test_a_gate_never_runs_without_its_row() -> None:
    with pytest.raises(KeyError, match=r"^'the limits table has no stop row for smoke_number'$"):
        rows().strictest("smoke_number", "stop")
    for quantity in ("flue_o2", "look_of_the_flame"):  # one has rows, but none of states
        with pytest.raises(KeyError, match=f"^'the limits table has no row for {quantity}'$"):
            rows().states(quantity)


def test_a_sheet_tightens_a_row_and_is_its_source_but_never_loosens_it() -> None:
    tight = rows(steady_before_reading="10").row("steady_before_reading")
    assert (tight.value, tight.source) == (Decimal("10"), "sheet Generic 9 kW, siphon")
    assert (
        rows(steady_before_reading="1").row("steady_before_reading") == limits().rows["steady_before_reading"]
    )


# --- Oxygen ---------------------------------------------------------------------------------------


def test_wet_oxygen_proves_nothing_and_names_the_floor() -> None:
    found = gate(left().edit("flue_o2", basis="wet"), "flue O2")
    assert (str(found.judgement), found.missing) == (NOT_PROVEN, ("flue_o2",))
    assert [row.key for row in found.limits] == ["flue_o2_floor"]
    assert says(left().edit("flue_o2", basis="wet"), "flue O2").startswith(
        "O₂ in the exhaust was read wet, as 6"
    )


def test_oxygen_shown_as_dashes_is_told_so_and_is_no_figure() -> None:
    draft = left().edit("flue_o2", nth=2, value=None, at_top=True)
    assert says(draft, "flue O2").startswith("O₂ in the exhaust was read as ----")
    number = gate(draft, "flue O2").counted
    assert number is not None
    assert number.at_top
    found = assess(
        draft.case(),
        sheet=draft.sheet,
        fuel=shelf().fuels["diesel_2"],
        limits=limits(),
        catalogue=draft.facts()["catalogue"],
        now=draft.now,
    )
    assert found.figure("flue_o2", AS_LEFT) is None


def test_oxygen_of_which_nobody_says_wet_or_dry_is_told_so() -> None:
    assert "(dry or wet" in says(left().edit("flue_o2", nth=2, basis=""), "flue O2")


def test_oxygen_too_close_to_its_floor_is_not_told_as_too_much_air() -> None:
    assert "does not prove a limit of at least 2" in says(left().edit("flue_o2", shown="2.1 %"), "flue O2")


def test_beyond_the_ceiling_the_ceiling_is_the_row_that_bit() -> None:
    draft = left().edit("flue_o2", shown="15 %")
    assert [row.key for row in gate(draft, "flue O2").limits] == ["flue_o2_ceiling"]
    assert says(draft, "flue O2").startswith("O₂ of 15.0 ± 0.3 % is so much air")


def test_a_ceiling_below_the_floor_hides_no_oxygen_below_the_floor() -> None:
    draft = left().edit("flue_o2", shown="1.5 %")
    draft.sheet = sheet(flue_o2_ceiling="1.6")
    found = gate(draft, "flue O2")
    assert (str(found.judgement), [row.key for row in found.limits]) == (OUTSIDE, ["flue_o2_floor"])


# --- Carbon monoxide in the exhaust ---------------------------------------------------------------


def test_only_dry_oxygen_is_a_partner_of_carbon_monoxide() -> None:
    draft = left().edit("flue_co2", basis="dry")
    assert counted(draft, "flue CO") == ("co_air_free", ["flue_co 2", "flue_o2 2"])
    assert str(gate(draft, "flue CO").judgement) == WITHIN


def test_oxygen_at_its_top_is_no_partner() -> None:
    # 150 ppm beside 10 % would be 287 ppm; beside "at least 10 %" it is no number at all.
    draft = left().edit("flue_co", shown="150 ppm").edit("flue_o2", shown="10 %", at_top=True)
    assert str(gate(draft, "flue CO").judgement) == NOT_PROVEN


def test_in_a_conflict_of_oxygen_carbon_monoxide_is_not_judged_by_the_worse() -> None:
    draft = left().edit("flue_co", shown="100 ppm")
    draft.add("flue_o2", 71, "14 %", basis="dry", instrument=PROBE, set_number=2)
    assert str(gate(draft, "flue CO").judgement) == NOT_PROVEN


@pytest.mark.parametrize(("co", "judgement"), [("205", NOT_PROVEN), ("215", OUTSIDE)])
def test_without_oxygen_the_bare_number_and_its_doubt_count_against(co: str, judgement: str) -> None:
    draft = left().drop("flue_o2").edit("flue_co", shown=f"{co} ppm")
    assert str(gate(draft, "flue CO").judgement) == judgement
    assert counted(draft, "flue CO") == ("flue_co", ["flue_co 1"])


def test_in_fresh_air_the_bare_number_stops() -> None:
    draft = left().edit("flue_o2", shown="20.95 %").edit("flue_co", shown="500 ppm")
    assert str(gate(draft, "flue CO").judgement) == STOP


def test_far_diluted_the_air_free_number_fails_and_stops_nothing() -> None:
    draft = left().edit("flue_o2", shown="16 %").edit("flue_co", shown="100 ppm")  # 423 ppm air-free
    assert str(gate(draft, "flue CO").judgement) == OUTSIDE
    assert counted(draft, "flue CO")[0] == "co_air_free"


def test_far_diluted_and_clean_it_is_not_proven_and_says_why() -> None:
    draft = left().edit("flue_o2", shown="16 %").edit("flue_co", shown="20 ppm")
    assert str(gate(draft, "flue CO").judgement) == NOT_PROVEN
    assert says(draft, "flue CO").startswith("O₂ of 16.0 ± 0.3 % is so much air")


def test_where_the_air_free_number_is_all_doubt_the_bare_one_fails() -> None:
    draft = left().edit("flue_o2", shown="20.9 %").edit("flue_co", shown="215 ppm")
    assert str(gate(draft, "flue CO").judgement) == OUTSIDE
    assert counted(draft, "flue CO") == ("flue_co", ["flue_co 1"])


def test_too_close_to_the_limit_is_not_told_as_too_much_air() -> None:
    assert "does not prove a limit" in says(left().edit("flue_co", shown="140 ppm"), "flue CO")


@pytest.mark.parametrize("key", ["flue_co", "flue_o2"])
def test_doubted_carbon_monoxide_or_oxygen_proves_nothing(key: str) -> None:
    assert str(gate(late(left(), key), "flue CO").judgement) == NOT_PROVEN


@pytest.mark.parametrize("other", [{**FOUND, "test": "test-1"}, {"test": "test-0"}])
def test_oxygen_of_another_stage_or_test_is_no_partner(other: dict[str, Any]) -> None:
    # 80 ppm beside 13.9 % would be 238 ppm.
    draft = left().edit("flue_co", shown="80 ppm")
    draft.add("flue_o2", 20, "13.9 %", basis="dry", instrument=PROBE, set_number=1, **other)
    assert str(gate(draft, "flue CO").judgement) == WITHIN


# --- Smoke and living space -----------------------------------------------------------------------


def test_smoke_counts_its_own_reading() -> None:
    assert counted(left(), "smoke") == ("smoke_number", ["smoke_number"])


@pytest.mark.parametrize(
    ("key", "name"),
    [("smoke_number", "smoke"), ("living_space_co_running", "living-space CO"), ("flue_co", "flue CO")],
)
def test_at_least_a_mild_number_is_outside(key: str, name: str) -> None:
    draft = left().edit(key, at_top=True)
    found = gate(draft, name)
    assert str(found.judgement) == OUTSIDE
    assert found.counted is not None
    assert found.counted.at_top
    assert "beyond what the meter can show" in says(draft, name)


def test_a_rise_is_of_two_readings() -> None:
    figure = ("living_space_co_rise", ["living_space_co_running", "outdoor_co"])
    assert counted(left(), "living-space CO") == figure


def test_of_several_missing_the_first_is_asked_for() -> None:
    draft = left().drop("living_space_co_running").drop("outdoor_co")
    assert gate(draft, "living-space CO").missing == ("living_space_co_running",)


@pytest.mark.parametrize("outdoors", [{"test": "test-0"}, {**FOUND, "test": "test-1"}])
def test_outdoors_of_another_stage_or_test_makes_no_rise_small(outdoors: dict[str, Any]) -> None:
    draft = left().edit("living_space_co_running", shown="12 ppm").drop("outdoor_co")
    draft.add("outdoor_co", 20, "20 ppm", instrument=METER, confirmed=True, **outdoors)
    assert str(gate(draft, "living-space CO").judgement) == OUTSIDE


def test_doubted_outdoors_makes_no_rise_small() -> None:
    draft = left().edit("living_space_co_running", shown="12 ppm").edit("outdoor_co", shown="20 ppm")
    assert str(gate(late(draft, "outdoor_co"), "living-space CO").judgement) == OUTSIDE


def test_a_doubted_reading_replaces_no_danger_as_found() -> None:
    draft = late(left(), "living_space_co_running")
    draft.add("living_space_co_running", 20, "60 ppm", instrument=METER, **FOUND)
    assert str(gate(draft, "living-space CO").judgement) == STOP


def test_a_stop_as_left_stands_by_itself() -> None:
    draft = left().edit("living_space_co_running", shown="60 ppm")
    draft.add("living_space_co_running", 20, "1 ppm", instrument=METER, **FOUND)
    found = gate(draft, "living-space CO")
    assert str(found.judgement) == STOP
    assert draft.readings[-1].id not in found.readings


def test_in_a_conflict_outdoors_the_rise_is_not_judged_by_the_worse() -> None:
    draft = left().edit("living_space_co_running", shown="20 ppm").edit("outdoor_co", shown="2 ppm")
    draft.add("outdoor_co", 57, "15 ppm", instrument=METER)
    assert str(gate(draft, "living-space CO").judgement) == NOT_PROVEN


# --- Trials without flame -------------------------------------------------------------------------


def trials(count: str, minute: float = 5, **more: Any) -> Draft:
    return good().add("trials_without_flame", minute, f"{count} count", **{**FOUND, **more})


def looked(draft: Draft, look: str, minute: float | None = 50, **more: Any) -> Draft:
    return draft.add("chamber_look", minute, look, **more)


TRIALS: dict[str, tuple[Draft, str]] = {
    "a dry look alone": (looked(good(), "dry"), WITHIN),
    "wet, then dry": (looked(looked(good(), "wet", 20, **FOUND), "dry"), WITHIN),
    "dry, then wet": (looked(looked(good(), "dry", 20, **FOUND), "wet"), STOP),
    "wet, and then wet or a doubted dry": (
        looked(looked(looked(good(), "wet", 20, **FOUND), "wet"), "dry", entered_at=at(130)),
        STOP,
    ),
    "wet and dry at one moment": (looked(looked(good(), "wet", 50, **FOUND), "dry"), STOP),
    "wet at no known time, dry later": (looked(looked(good(), "wet", None, **FOUND), "dry"), STOP),
    "two trials as found": (trials("2"), NOT_PROVEN),
    "two trials and a dry look": (looked(trials("2"), "dry"), WITHIN),
    "two trials and a doubted dry look": (late(looked(trials("2"), "dry"), "chamber_look"), NOT_PROVEN),
    "one trial as found, then the first try": (trials("1"), WITHIN),
    "one trial as left, and the first try": (
        trials("1", test="test-1", stage=AS_LEFT),
        NOT_PROVEN,
    ),
    "one trial as left, and a later try": (
        good().edit("trials_without_flame", shown="1 count").edit("light_off", state="later try"),
        WITHIN,
    ),
    "one trial as left, nothing of the light-off": (
        good().edit("trials_without_flame", shown="1 count").drop("light_off"),
        WITHIN,
    ),
    "one of two counts doubted": (trials("0", entered_at=at(130)), NOT_PROVEN),
    "trials counted, light-off not": (good().drop("light_off"), WITHIN),
    "light-off noted, no trials": (good().drop("trials_without_flame"), WITHIN),
    "neither": (good().drop("light_off").drop("trials_without_flame"), NOT_PROVEN),
    "neither, and a dry look": (looked(good().drop("light_off").drop("trials_without_flame"), "dry"), WITHIN),
}


@pytest.mark.parametrize("name", TRIALS)
def test_starts_without_flame(name: str) -> None:
    draft, judgement = TRIALS[name]
    draft.closed_at = at(120)
    found = gate(draft, "trials")
    assert str(found.judgement) == judgement
    assert found.gate == "trials"
    assert found.stops == (("do not fire",) if judgement == STOP else ())
    if name == "neither":
        assert found.missing == ("light_off",)


def test_a_chamber_that_one_row_of_two_forbids_is_not_fired() -> None:
    dry = limits().rows["chamber_dry"]
    other = replace(dry, key="chamber_clean", states=("sooted",), comparison=Comparison.NONE_OF)
    found = gate(looked(good(), "wet"), "trials", limits=table(other))
    assert str(found.judgement) == STOP

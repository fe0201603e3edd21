"""A reading that was taken and cannot be believed says so: what was read, why not, and what to do."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from cases import AS_FOUND, AS_LEFT, PROBE, Draft, at, good

from lightoff.ground.message import Message
from lightoff.judging.believed import Believed, believe
from lightoff.judging.unbelieved import (
    absent_figures,
    why_not,
    why_open,
    why_partner_open,
    why_set_open,
)
from lightoff.judging.verdict import judge
from lightoff.terms.visit import NOT_HAD
from lightoff.texts import Speaker


def told(draft: Draft) -> list[str]:
    """The sentence of every open gate, and what was set aside."""
    result = judge(draft.case(), **draft.facts())
    assert str(result.verdict) != "fit as tested" or result.set_aside
    said = [gate.said for gate in result.gates if str(gate.judgement) != "within limits"]
    return [Speaker().say(each).replace("\u00a0", " ") for each in (*said, *result.set_aside)]


CASES: dict[str, tuple[str, dict[str, Any], str]] = {
    "beyond what can be": (
        "flue_o2",
        {"value": Decimal("25")},
        (
            "O₂ in the exhaust was read as 25 % and cannot be believed: it can lie from 0 % to 20.95 %. "
            "Zero the probe on fresh air and read again."
        ),
    ),
    "below nothing": (
        "flue_co",
        {"value": Decimal("-3")},
        (
            "CO in the exhaust was read as −3 ppm and cannot be believed: it can lie from 0 ppm to 100000 "
            "ppm. Check the figure and its unit, and read again."
        ),
    ),
    "no number": (
        "flue_co2",
        {"value": Decimal("NaN")},
        (
            "CO₂ in the exhaust was entered as “NaN” and cannot be believed: that is no number. Type the "
            "figure that the instrument shows."
        ),
    ),
    "a unit of something else": (
        "smoke_number",
        {"unit": "degC"},
        (
            "Smoke number was entered as 0 with the unit “degC” and cannot be believed: it is not measured"
            " in that. Enter it again, in smoke no. for example."
        ),
    ),
    "no such state": (
        "fuel_joints_1_min",
        {"state": "moist"},
        (
            "Fuel joints after 1 minute was entered as “moist” and cannot be believed: possible are dry, "
            "damp and dripping. Look again and choose one."
        ),
    ),
    "no instrument": (
        "smoke_number",
        {"instrument": None},
        (
            "Smoke number was read as 0 and cannot be believed as it stands: it names no instrument of the"
            " shop that can read it. Name the instrument, or read it again."
        ),
    ),
    "off a photograph": (
        "smoke_number",
        {"basis": "by photograph"},
        (
            "Smoke number was read off a photograph as 0, and a photograph closes no gate. Hold the spot"
            " beside the bought scale, judge it by eye, and type what you see."
        ),
    ),
    "no basis": (
        "flue_o2",
        {"basis": None},
        (
            "O₂ in the exhaust was read as 6.0 % and cannot be believed as it stands: it does not say how "
            "it was had (dry or wet, measured or calculated). Say how, or read it again."
        ),
    ),
    "wet": (
        "flue_o2",
        {"basis": "wet"},
        (
            "O₂ in the exhaust was read wet, as 6.0 %; the verdict needs it dry. Read it with a probe that"
            " dries the gas."
        ),
    ),
    "a wide uncertainty": (
        "living_space_co_off",
        {"typed_uncertainty": Decimal(50)},
        (
            "CO inside, burner off was read as 1 ppm and cannot be believed: the uncertainty typed with it"
            " is more than an instrument of its class may have. Correct it, or read with another "
            "instrument."
        ),
    ),
    "no time": (
        "exhaust_path",
        {"taken_at": None},
        (
            "Exhaust path was read as sound and clear and cannot be believed: it has no time, or one that "
            "cannot belong to this visit. Put its time right, or read it again."
        ),
    ),
    "at the top": (
        "fresh_air_o2_after",
        {"at_top": True, "value": None},
        (
            "O₂ in fresh air, after was read as ---- and does not count as a number: the meter was at the "
            "top of its range. Read with one that reaches further."
        ),
    ),
    "as found only": (
        "exhaust_path",
        {"stage": AS_FOUND},
        "Read as found only: Exhaust path. Read it again as left.",
    ),
    "in another test": (
        "exhaust_path",
        {"test": "test-0", "taken_at": at(50)},
        "Read in an earlier test only: Exhaust path. Read it again in this one.",
    ),
    "blank": ("smoke_number", {"value": None}, "Not read yet: Smoke number."),
}


@pytest.mark.parametrize("name", CASES)
def test_what_was_read_and_why_it_does_not_count(name: str) -> None:
    key, changes, sentence = CASES[name]
    draft = good().edit(key, **changes)
    assert sentence in told(draft)
    assert not any(each == f"Not read yet: {key}." for each in told(draft))


def sorted_out(draft: Draft) -> Believed:
    return believe(draft.case(), draft.facts()["catalogue"], draft.now)


def words(said: Message | None) -> str:
    return "" if said is None else Speaker().say(said).replace("\u00a0", " ")


def only(key: str, shown: str | None = None, **changes: Any) -> tuple[Believed, Any]:
    """A visit of one reading more, sorted, and that reading."""
    draft = Draft(readings=[], events=[], instruments=dict(good().instruments))
    if shown is not None:
        value, unit = shown.split(" ", 1)
        changes = {"value": Decimal(value), "unit": unit, **changes}
    draft.add(key, 75, **changes)
    believed = sorted_out(draft)
    return believed, believed.case.visit.readings[0]


@pytest.mark.parametrize(
    ("key", "shown", "changes", "sentence"),
    [
        ("fresh_air_o2_before", "-1 %", {}, "it can lie from 0 % to 25 %. Zero the probe on fresh air and"),
        ("fresh_air_o2_after", "-1 %", {}, "it can lie from 0 % to 25 %. Zero the probe on fresh air and"),
        ("flue_co2", "80 %", {}, "Check the figure and its unit, and read again."),
        # Of the quantity and of the meter the narrower lower end; a temperature in the reader's own unit.
        ("stack_gas_temperature", "-60 degC", {"instrument": PROBE}, "it can lie from −40 °C to "),
        ("stack_gas_temperature", "-300 degC", {"instrument": None}, "was read as −300 °C and cannot"),
        ("stack_gas_temperature", "-300 degC", {"instrument": "no such"}, "was read as −300 °C and cannot"),
        ("flue_co", "-3 ppm", {"instrument": PROBE}, "it can lie from 0 ppm to 100000 ppm."),
        ("smoke_number", "0 no unit", {}, "with the unit “no unit” and cannot be believed"),
        ("flue_o2", None, {"value": Decimal("1E+14"), "unit": "%"}, "was read as 100000000000000 % and"),
        ("flue_co", None, {"value": Decimal("-1E+15"), "unit": "%"}, "was read as -1E+15 and"),
        ("flue_co", None, {"value": Decimal("-1E-14"), "unit": "%"}, "was read as −0.00000000000001 % and"),
        ("flue_co", None, {"value": Decimal("-1E-15"), "unit": "%"}, "was read as -1E-15 and"),
        ("flue_co", None, {"value": Decimal("Infinity"), "unit": "%"}, "was entered as “Infinity”"),
        (
            "flue_co",
            None,
            {"value": 3.5, "unit": "%"},
            "was entered as “3.5” and cannot be believed: that is",
        ),
        ("exhaust_path", None, {"state": "leaky", "value": Decimal(3)}, "was entered as “3” and cannot"),
        (
            "exhaust_path",
            None,
            {"at_top": True},
            "was entered as “----” and cannot be believed: possible are",
        ),
        ("exhaust_path", None, {"value": Decimal(3), "unit": "no unit"}, "was entered as “3” and cannot"),
        (
            "owner_says",
            None,
            {"state": "sings"},
            "possible are runs well, does nothing at all, tries, no flame,",
        ),
        ("exhaust_path", None, {}, "Not read yet: Exhaust path."),
        ("flue_o3", "4 %", {}, "“flue_o3” was entered and cannot be believed: no reading of that name"),
    ],
)
def test_what_no_gate_could_use_says_why(
    key: str, shown: str | None, changes: dict[str, Any], sentence: str
) -> None:
    believed, reading = only(key, shown, **changes)
    assert not believed.judged
    assert sentence in words(why_not(believed, reading))


def test_the_lowest_that_can_be_is_told_of_quantity_or_meter_in_the_readers_own_unit() -> None:
    believed, reading = only("tap_temperature", "-60 degC", instrument="contact")
    thermometer = replace(good().instruments[PROBE], id="contact", kind="contact_thermometer")
    entry = believed.catalogue.entries["tap_temperature"]

    def bounds(**of_quantity: Any) -> str:
        entries = {**believed.catalogue.entries, "tap_temperature": replace(entry, **of_quantity)}
        case = replace(believed.case, instruments={"contact": thermometer})
        asked = replace(believed, case=case, catalogue=replace(believed.catalogue, entries=entries))
        said = why_not(asked, reading)
        assert said is not None
        told_in_us = Speaker(units="us").say(said).replace("\u00a0", " ")
        return told_in_us[told_in_us.index("lie from") :].partition(". ")[0]

    assert bounds() == "lie from 32 °F to 212 °F", "the meter reaches down to −50 °C, the water does not"
    assert bounds(possible_low=None) == "lie from −58 °F to 212 °F"
    assert bounds(possible_low=Decimal(-90)) == "lie from −58 °F to 212 °F"
    assert bounds(possible_high=None) == "lie from 32 °F to "


TOLD_FIRST = (
    "grouped", "by_photograph", "no_instrument", "no_basis", "typed_uncertainty", "no_time", "late", "at_top",
)  # fmt: skip


@pytest.mark.parametrize("first", range(len(TOLD_FIRST)))
def test_of_several_doubts_the_one_that_can_be_put_right_is_told(first: int) -> None:
    believed, reading = only("flue_o2", "6 %", instrument=PROBE, basis="dry")
    one = replace(believed.judged[0], doubts=TOLD_FIRST[first:][::-1])
    said = why_not(replace(believed, judged=(one,)), reading)
    assert said is not None
    assert said.key == f"judging.doubt_{TOLD_FIRST[first]}"
    assert said.values["what"] == "@reading.flue_o2"


def test_nothing_is_held_against_a_clean_reading() -> None:
    believed, reading = only("flue_o2", "6 %", instrument=PROBE, basis="dry")
    assert why_not(believed, reading) is None


def test_why_a_key_is_open_looks_first_at_the_test_then_at_what_was_left_then_at_what_was_found() -> None:
    key, unread = "exhaust_path", {"state": "moist"}
    name, other_test = "Exhaust path", {"test": "test-0", "taken_at": at(50)}
    draft = good().drop(key)
    assert words(why_open(sorted_out(draft), key)) == f"Not read yet: {name}."
    draft.add(key, 5, "sound and clear", heater="another")
    draft.add(key, 5, None, note=NOT_HAD)
    assert words(why_open(sorted_out(draft), key)) == f"Not read yet: {name}."
    draft.add(key, 10, "sound and clear", stage=AS_FOUND, test="found")
    assert words(why_open(sorted_out(draft), key)).startswith(f"Read as found only: {name}.")
    draft.add(key, 11, stage=AS_FOUND, test="found", **unread)
    assert "was entered as “moist”" in words(why_open(sorted_out(draft), key))
    draft.add(key, 50, "sound and clear", test="test-0")
    assert words(why_open(sorted_out(draft), key)).startswith(f"Read in an earlier test only: {name}.")
    draft.add(key, 51, **{**other_test, "state": "rotten"})
    assert "was entered as “rotten”" in words(why_open(sorted_out(draft), key))
    draft.add(key, 75, "sound and clear")
    assert words(why_open(sorted_out(draft), key)) == f"Not read yet: {name}."
    draft.add(key, 76, state="first").add(key, 77, state="last")
    assert "was entered as “last”" in words(why_open(sorted_out(draft), key))
    assert words(why_open(replace(sorted_out(draft), test=None), key)).startswith("Exhaust path was entered")
    nowhere = good().edit(key, test=None)
    other = words(why_open(replace(sorted_out(nowhere), test=None), key))
    assert other.startswith(f"Read in an earlier test only: {name}."), "no test is no test of its own"


def test_a_key_that_no_gate_knows_is_named_as_it_was_written() -> None:
    assert words(why_open(sorted_out(good()), "tank_level")) == "Not read yet: “tank_level”."


def test_why_a_set_is_open_looks_at_that_set_alone() -> None:
    draft = good().edit("flue_o2", nth=2, basis="wet")
    believed = sorted_out(draft)
    missing = "O₂ in the exhaust is missing from set 1 of two."
    assert words(why_set_open(believed, "flue_o2", 1)) == missing
    assert "was read wet, as 6.1 %" in words(why_set_open(believed, "flue_o2", 2))
    assert words(why_set_open(believed, "flue_o2", 3)) == "O₂ in the exhaust has not been read in set 3."
    assert words(why_set_open(believed, "flue_co2", 2)) == "CO₂ in the exhaust is missing from set 2 of two."
    odd = sorted_out(good().edit("flue_o2", nth=2, value=Decimal(25)))
    assert "was read as 25 %" in words(why_set_open(odd, "flue_o2", 2))
    assert words(why_set_open(odd, "flue_o2", 1)) == missing
    nameless = sorted_out(good().edit("flue_o2", nth=2, basis="wet", instrument=None))
    assert "names no instrument" in words(why_set_open(nameless, "flue_o2", 2)), "before that it is wet"


def test_why_a_partner_is_open_is_of_its_set_where_the_test_has_one() -> None:
    believed = sorted_out(good().drop("flue_o2", nth=2))
    assert "is missing from set 2" in words(why_partner_open(believed, "flue_o2", 2))
    assert words(why_partner_open(believed, "flue_o2", None)) == "Not read yet: O₂ in the exhaust."
    none = sorted_out(good().drop("flue_o2", of=AS_LEFT))
    assert words(why_partner_open(none, "flue_o2", 2)).startswith("Read as found only: O₂ in the exhaust.")


def test_every_figure_that_shows_a_reading_is_absent_with_it() -> None:
    top, junk = {"at_top": True, "value": None}, {"value": Decimal(-4)}
    draft = good().edit("living_space_co_running", **top).edit("smoke_number", **junk)
    draft.add("flue_o2", 72, "25 %", heater="another", set_number=3)
    draft.add("stack_gas_temperature", 72, "8000 degC", test=None).add("exhaust_path", 76, state="moist")
    found = absent_figures(sorted_out(draft))
    assert set(found) == {
        ("living_space_co_rise", AS_LEFT, "over the top"),
        ("smoke_number", AS_LEFT, "not believed"),
        ("stack_gas_temperature", AS_LEFT, "not believed"),
    }
    off = good().edit("living_space_co_off", of=None, **junk)
    assert absent_figures(sorted_out(off)) == (("living_space_co_rise", AS_LEFT, "not believed"),)
    for order in (1, 2):  # the worse of two reasons, in whatever order they were read
        both = good().edit("flue_co", nth=order, **top).edit("flue_co", nth=3 - order, **junk)
        assert set(absent_figures(sorted_out(both))) == {
            ("flue_co", AS_LEFT, "over the top"),
            ("co_air_free", AS_LEFT, "over the top"),
        }


def test_a_late_reading_asks_to_be_accepted() -> None:
    draft = good().edit("smoke_spot_look", entered_at=at(210))
    draft.closed_at = at(200)
    assert (
        "Look of the smoke spot was read as no colour and does not count yet: it was entered after the visit "
        "was closed. Somebody has to accept it." in told(draft)
    )


def test_one_set_that_cannot_be_believed_is_not_called_missing() -> None:
    said = told(good().edit("flue_o2", nth=1, value=Decimal("25")))
    assert not any("missing from set" in each for each in said)
    assert sum(each.startswith("O₂ in the exhaust was read as 25 %") for each in said) >= 1


def test_a_figure_that_was_read_and_not_believed_is_known_as_such() -> None:
    draft = good().edit("flue_o2", value=Decimal("25")).edit("flue_co", nth=2, at_top=True, value=None)
    draft.drop("smoke_number")
    found = believe(draft.case(), draft.facts()["catalogue"], draft.now)
    assert set(absent_figures(found)) == {
        ("flue_o2", AS_LEFT, "not believed"),
        ("flue_co", AS_LEFT, "over the top"),
        ("co_air_free", AS_LEFT, "over the top"),
    }


def test_what_no_gate_needs_is_set_aside_with_its_reason() -> None:
    draft = good()
    draft.add("tap_temperature", 80, "400 degC", instrument=None, test=None)
    assert told(draft) == [
        (
            "Hot tap was read as 400 °C and cannot be believed: it can lie from 0 °C to 100 °C. Check the "
            "figure and its unit, and read again. It was set aside; the verdict does not need it."
        )
    ]


def test_a_name_that_nobody_knows() -> None:
    draft = good()
    draft.add("flue_o3", 80, "4 %")
    assert any(each.startswith("“flue_o3” was entered and cannot be believed") for each in told(draft))


@pytest.mark.parametrize("number", ["1E+400", "-1E+60"])
def test_a_number_of_many_digits_is_told_as_typed(number: str) -> None:
    draft = good()
    index = next(i for i, r in enumerate(draft.readings) if r.key == "smoke_number")
    draft.readings[index] = replace(draft.readings[index], value=Decimal(number))
    assert all(len(each) < 400 for each in told(draft))


def test_too_much_air_is_named_with_its_cure() -> None:
    draft = good().drop("flue_co", of=AS_FOUND).edit("flue_o2", value=Decimal("16.0"))
    said = [each for each in told(draft) if each.startswith("O₂ of 16.0 ± 0.3 % is so much air")]
    assert said
    assert said[0].endswith("the probe deep in the gas and the hose tight, and read again.")


def test_over_the_top_is_no_nought() -> None:
    draft = good().edit("flue_co", nth=2, at_top=True, value=None)
    said = told(draft)
    assert any("is beyond what the meter can show; the limit is at most 200 ppm." in each for each in said)
    assert not any("is 0" in each for each in said)


def test_two_candidates_in_one_place_are_called_a_conflict() -> None:
    draft = good()
    draft.add("smoke_number", 74, "0.5 smoke no.", instrument="smoke-pump")
    said = told(draft)
    assert "Smoke number: two readings contradict each other; choose the one that stands." in said
    assert not any("does not prove a limit" in each for each in said)


def test_a_visit_without_a_reading_of_the_burn_names_what_lacks() -> None:
    """What was read as left with a multimeter is a reading: nobody is told that there is none."""
    draft = good()
    draft.readings = [each for each in draft.readings if each.key == "light_off"]
    draft.readings = [replace(each, key="supply_voltage_rest", state=None) for each in draft.readings]
    draft.readings = [replace(each, value=Decimal("12.6"), unit="V") for each in draft.readings]
    result = judge(draft.case(), **draft.facts())
    said = {gate.gate: Speaker().say(gate.said).replace("\u00a0", " ") for gate in result.gates}
    assert said["fresh air"] == "Not read yet: O₂ in fresh air, after."
    assert said["steady"] == "No reading of the burn was taken as left."
    for gate in ("one test", "calibration"):
        assert said[gate] == "None of the readings that the verdict needs was taken as left."


def test_a_test_that_was_read_at_no_time_says_so() -> None:
    draft = good().edit("flue_o2", nth=1, taken_at=None)
    assert "A reading of the test bears no time, so steady running is not shown." in told(draft)

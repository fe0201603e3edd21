"""A reading that was taken and cannot be believed says so: what was read, why not, and what to do."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from cases import AS_FOUND, AS_LEFT, Draft, at, good

from lightoff.judging.believed import believe
from lightoff.judging.unbelieved import absent_figures
from lightoff.judging.verdict import judge
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

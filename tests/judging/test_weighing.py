"""Whose reading counts, which of them is told, and why one proves nothing; each found by a changed line."""

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any, NamedTuple

import pytest
from cases import AS_FOUND, METER, PUMP, Draft, at, good, limits

from lightoff.judging.assessment import GateResult
from lightoff.judging.verdict import judge
from lightoff.terms.shelf import Comparison, Limit
from lightoff.texts import Speaker

STOP, OUTSIDE, NOT_PROVEN, WITHIN = "stop", "outside limits", "not proven", "within limits"
FOUND: dict[str, Any] = {"stage": AS_FOUND, "test": "found"}
RUNNING, OFF = "living_space_co_running", "living_space_co_off"
AIR = "living-space CO"


def gate(draft: Draft, name: str) -> GateResult:
    result = judge(draft.case(), **draft.facts())
    return next(each for each in result.gates if each.gate == name)


def left() -> Draft:
    """The good case without a burn as found, which stops."""
    return good().drop("flue_o2", of=AS_FOUND).drop("flue_co", of=AS_FOUND)


def late(draft: Draft, *keys: str) -> Draft:
    """Entered after the visit was closed: doubted, and still to be read."""
    draft.closed_at = at(120)
    for key in keys:
        draft.edit(key, entered_at=at(130))
    return draft


def smoke(shown: str, minute: float = 20, **of: Any) -> Callable[[Draft], Draft]:
    return lambda draft: draft.add("smoke_number", minute, f"{shown} smoke no.", instrument=PUMP, **of)


def indoors(shown: str, minute: float = 80, **of: Any) -> Callable[[Draft], Draft]:
    return lambda draft: draft.add(RUNNING, minute, f"{shown} ppm", instrument=METER, confirmed=True, **of)


def of_no_test() -> Draft:
    draft = left()
    draft.readings = [replace(each, test=None) for each in draft.readings]
    return draft


def twice() -> Draft:
    """One number entered twice, the second time too late."""
    draft = left()
    twin = next(each for each in draft.readings if each.key == RUNNING)
    draft.closed_at = at(120)
    draft.readings.append(replace(twin, id="twin", entered_at=at(130)))
    return draft


def fuel_drips_late() -> Draft:
    return left().edit("fuel_joints_1_min", state="damp").edit("fuel_joints_10_min", state="dripping")


class Case(NamedTuple):
    """A draft, its gate, the judgement, words of the sentence, and the rows that bit."""

    make: Callable[[], Draft]
    gate: str
    judgement: str
    said: str
    rows: tuple[str, ...] = ()


SMOKE, FIT = ("smoke_number_fit",), ("living_space_co_fit",)
CASES: dict[str, Case] = {
    # whose reading counts
    "as found is replaced, whatever its test is called": Case(
        lambda: smoke("9", stage=AS_FOUND, test="test-1")(left()),
        *("smoke", WITHIN, "Smoke number is 0.0", SMOKE),
    ),
    "so is an earlier test": Case(
        lambda: smoke("9", test="test-0")(left()), *("smoke", WITHIN, "Smoke number is 0.0", SMOKE)
    ),
    "an earlier test replaces what was found and proves nothing": Case(
        lambda: smoke("9", **FOUND)(left().edit("smoke_number", test="test-0", taken_at=at(50))),
        *("smoke", NOT_PROVEN, "Read in an earlier test only", SMOKE),
    ),
    "but what was seen beside the test after it stands": Case(
        lambda: smoke("4", 74, test="test-0")(left()),
        *("smoke", OUTSIDE, "Smoke number is 4.0", SMOKE),
    ),
    "once the test read it again, it is past": Case(
        lambda: smoke("0", 75, set_number=2)(smoke("4", 74, test="test-0")(left())),
        *("smoke", WITHIN, "Smoke number is 0.0", SMOKE),
    ),
    "though not by a reading that is doubted": Case(
        lambda: smoke("0", 75, set_number=2, basis="grouped")(smoke("4", 74, test="test-0")(left())),
        *("smoke", OUTSIDE, "Smoke number is 4.0", SMOKE),
    ),
    "and so does what was seen beside it at no time that can be": Case(
        lambda: indoors("60", -800, test=None)(left()),
        *(AIR, STOP, "there is danger", ("living_space_co_stop",)),
    ),
    "a good number beside the test changes nothing": Case(
        lambda: smoke("1", 74, test="test-0")(left()), *("smoke", WITHIN, "Smoke number is 0.0", SMOKE)
    ),
    "a conflict beside it, of which one came later, is a conflict": Case(
        lambda: smoke("9", 74, test="test-0")(smoke("0", 20, test="test-0")(left())),
        *("smoke", WITHIN, "Smoke number is 0.0", SMOKE),
    ),
    "beyond its range, once with a number and once without": Case(
        lambda: (
            left()
            .edit("flue_o2", nth=2, value=None, at_top=True)
            .add("flue_o2", 71, "0 %", basis="dry", instrument="probe", set_number=2, at_top=True)
        ),
        *("conflict", NOT_PROVEN, "contradict", ()),
    ),
    "of no test nothing counts": Case(of_no_test, "smoke", NOT_PROVEN, "Smoke number", SMOKE),
    "a conflict replaces no danger as found": Case(
        lambda: indoors("60", 20, **FOUND)(indoors("3")(left())),
        *(AIR, STOP, "there is danger", ("living_space_co_stop",)),
    ),
    "outdoors twice, once doubted": Case(
        lambda: left().add("outdoor_co", 57, "1 ppm", instrument=METER, typed_uncertainty=Decimal(11)),
        *(AIR, NOT_PROVEN, "CO outdoors", FIT),
    ),
    "one number twice, once doubted": Case(twice, AIR, NOT_PROVEN, "entered after the visit", FIT),
    # which is told
    "in a conflict the milder is told, with its row": Case(
        lambda: indoors("12")(left().edit(RUNNING, shown="60 ppm")),
        *(AIR, NOT_PROVEN, "two readings contradict each other", FIT),
    ),
    "a number before what is missing": Case(
        lambda: left().edit(RUNNING, shown="8 ppm").drop(OFF),
        *(AIR, NOT_PROVEN, "Carbon monoxide above outdoors is 7 ± 3 ppm, which does not prove", FIT),
    ),
    "below a floor before above a ceiling": Case(
        lambda: left().edit("flue_o2", nth=1, shown="15 %").edit("flue_o2", nth=2, shown="2.1 %"),
        *("flue O2", NOT_PROVEN, "Oxygen in the exhaust is 2.1", ("flue_o2_floor", "flue_o2_ceiling")),
    ),
    "the lower of two below a floor": Case(
        lambda: left().edit("flue_o2", nth=1, shown="1.2 %").edit("flue_o2", nth=2, shown="1.5 %"),
        *("flue O2", OUTSIDE, "Oxygen in the exhaust is 1.2", ("flue_o2_floor",)),
    ),
    "a conflict of numbers that are all outside is told as outside": Case(
        lambda: smoke("4", 73)(left().edit("smoke_number", value=Decimal(3))),
        *("smoke", OUTSIDE, "the limit is at most 1", SMOKE),
    ),
    "at the top and a stop is told as a stop": Case(
        lambda: left().edit("flue_co", shown="500 ppm", at_top=True),
        *("flue CO", STOP, "there is danger unless it is at most 400 ppm", ("co_air_free_stop",)),
    ),
    # why a number proves nothing
    "its own doubt, not another's": Case(
        lambda: late(left(), "smoke_number", "light_off"),
        *("smoke", NOT_PROVEN, "Smoke number was read as 0", SMOKE),
    ),
    "the doubt on what would replace it": Case(
        lambda: late(good().edit("flue_co", of=AS_FOUND, shown="60 ppm"), "flue_co"),
        *("flue CO", NOT_PROVEN, "CO in the exhaust was read as 3", ("co_air_free_fit",)),
    ),
    "read as found only": Case(
        lambda: (
            left().drop("flue_co").add("flue_co", 10, "60 ppm", instrument="probe", set_number=1, **FOUND)
        ),
        *("flue CO", NOT_PROVEN, "Read as found only: CO in the exhaust", ("co_air_free_fit",)),
    ),
    # of several conflicts its own, and its partner's where it has none
    "its own conflict, not oxygen's": Case(
        lambda: smoke("0.2", 73)(
            left().add("flue_o2", 71, "7 %", basis="dry", instrument="probe", set_number=2)
        ),
        *("smoke", NOT_PROVEN, "Smoke number: two readings contradict", SMOKE),
    ),
    "of its readings the one in conflict": Case(
        lambda: left().add(OFF, 58, "3 ppm", instrument=METER, confirmed=True),
        *(AIR, NOT_PROVEN, "burner off: two readings contradict", FIT),
    ),
    "its partner's conflict": Case(
        lambda: left().add("flue_o2", 71, "7 %", basis="dry", instrument="probe", set_number=2),
        *("flue CO", NOT_PROVEN, "O₂ in the exhaust: two readings contradict", ("co_air_free_fit",)),
    ),
    "at the top before any number": Case(
        lambda: smoke("8", 74, set_number=2)(left().edit("smoke_number", value=None, at_top=True)),
        *("smoke", OUTSIDE, "Smoke number is beyond what the meter can show", SMOKE),
    ),
    # states
    "of two looks the one that the row forbids": Case(
        lambda: left().add("exhaust_path", 76, "leaking inside", set_number=2),
        *("exhaust path", STOP, "leaking inside", ("exhaust_not_inside",)),
    ),
    "the row of its own reading, and not of the first": Case(
        fuel_drips_late,
        *("fuel joints", STOP, "dripping", ("fuel_joints_not_dripping_10",)),
    ),
    "the first of several missing is asked for": Case(
        lambda: left().drop("fuel_joints_1_min").drop("fuel_joints_10_min"),
        *("fuel joints", NOT_PROVEN, "after 1 minute", ()),
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_whose_reading_counts(name: str) -> None:
    case = CASES[name]
    found = gate(case.make(), case.gate)
    assert str(found.judgement) == case.judgement
    assert case.said in Speaker().say(found.said).replace("\u00a0", " ")
    assert tuple(row.key for row in found.limits) == case.rows
    assert bool(found.stops) is (case.judgement == STOP)


def test_what_would_close_it_is_the_gas_that_is_open() -> None:
    assert gate(late(good(), "flue_co").drop("flue_co", of=AS_FOUND), "flue CO").missing == ("flue_co",)
    assert gate(left().drop("flue_o2"), "flue CO").missing == ("flue_o2",)


def test_only_what_stops_names_a_stop() -> None:
    found = gate(left().edit("exhaust_path", state="blocked"), "exhaust path")
    assert found.stops == ("do not fire",)
    assert found.limits[0].key == "exhaust_not_inside"


def with_rows(draft: Draft, name: str, *rows: Limit) -> GateResult:
    table = replace(limits(), rows=dict(limits().rows) | {row.key: row for row in rows})
    result = judge(draft.case(), **(draft.facts() | {"limits": table}))
    return next(each for each in result.gates if each.gate == name)


def test_a_stop_is_named_by_the_first_row_that_names_one() -> None:
    row = limits().rows["exhaust_not_inside"]
    other = replace(row, key="exhaust_not_blocked", stops="leave the vehicle")
    found = with_rows(
        left().edit("exhaust_path", state="blocked"), "exhaust path", replace(row, stops=""), other
    )
    assert found.stops == ("leave the vehicle",)


def test_what_is_told_was_seen_where_the_row_looks() -> None:
    row = limits().rows["fuel_joints_dry_10"]
    odd = replace(row, key="fuel_joints_not_dry", comparison=Comparison.NONE_OF, states=("dry",))
    found = with_rows(left(), "fuel joints", odd)
    assert str(found.judgement) == OUTSIDE
    assert found.said.values["what"] == "@reading.fuel_joints_10_min"


@pytest.mark.parametrize(
    ("make", "counts"),
    [
        (smoke("4", 74, test="test-0"), 2),  # the test's own, and what stands beside it
        (smoke("1", 74, test="test-0"), 1),  # one beside it that says nothing worse
        (lambda draft: smoke("4", 74, test="test-0")(draft.drop("smoke_number")), 1),
    ],
)
def test_a_gate_names_each_reading_that_it_used_once(make: Callable[[Draft], Draft], counts: int) -> None:
    found = gate(make(left()), "smoke")
    assert len(found.readings) == len(set(found.readings)) == counts

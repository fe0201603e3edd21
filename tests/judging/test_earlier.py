"""What earlier visits left is told as their own cards told it."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from cases import AS_FOUND, Draft, catalogue, good, limits, sheet, shelf

from lightoff.judging.assess import assess
from lightoff.judging.assessment import Assessment, BurnPoint
from lightoff.judging.earlier import left_then
from lightoff.terms.case import Case
from lightoff.terms.shelf import Sheet
from lightoff.terms.visit import Stage, Visit
from lightoff.texts import Speaker

PLAIN = replace(sheet(), stack_temperature_highest_k=None)
LIMITED = replace(sheet(), stack_temperature_highest_k=430 + 273.15)


def judged(case: Case, heaters: Sheet) -> Assessment:
    facts: dict[str, Any] = {"limits": limits(), "catalogue": catalogue(), "now": good().now}
    return assess(case, sheet=heaters, fuel=shelf().fuels["diesel_2"], **facts)


def two_sets(*, stack: tuple[str, str], co: tuple[str, str] = ("60", "32")) -> Draft:
    """A visit whose first set is the worse one, so that it counts; each set has its own exhaust."""
    draft = good().drop("stack_gas_temperature", of=Stage.AS_LEFT)
    for number, minute in ((1, 68), (2, 71)):
        draft.edit("flue_co", nth=number, shown=f"{co[number - 1]} ppm")
        draft.edit("flue_o2", nth=number, shown=f"{('6.0', '6.2')[number - 1]} %")
        shown, of_probe = f"{stack[number - 1]} degC", {"instrument": "probe", "set_number": number}
        draft.add("stack_gas_temperature", minute, shown, **of_probe)
    return draft


def before(draft: Draft, days: int) -> Visit:
    visit, back = draft.case().visit, timedelta(days=days)
    moved = tuple(
        replace(each, id=f"{each.id}-{days}", taken_at=each.taken_at - back if each.taken_at else None)
        for each in visit.readings
    )
    return replace(visit, id=f"visit-{days}", started_at=visit.started_at - back, readings=moved)


@pytest.mark.parametrize("heaters", [PLAIN, LIMITED], ids=["no maker's limit", "maker's limit"])
def test_a_change_is_told_of_the_numbers_that_the_figures_tell(heaters: Sheet) -> None:
    """Against the maker's limit stands the hottest set, else the one whose carbon monoxide counts."""
    now, then = two_sets(stack=("240", "252")), two_sets(stack=("190", "202"))
    history = tuple(before(then, days) for days in (700, 350))
    found = judged(replace(now.case(), history=history), heaters)
    earlier = judged(then.case(), heaters).figure("stack_gas_temperature", Stage.AS_LEFT)
    figure = found.figure("stack_gas_temperature", Stage.AS_LEFT)
    assert figure is not None
    assert earlier is not None
    told = {False: ("240", "190"), True: ("252", "202")}[heaters.stack_temperature_highest_k is not None]
    shown = [f"{each.estimate.value - 273.15:.0f}" for each in (figure, earlier)]
    assert tuple(shown) == told
    words = [Speaker().say(each).replace("\u00a0", " ") for each in found.notices]
    was = f"Exhaust gas, by probe is {told[0]} °C; on 2 earlier visits it was about {told[1]} °C."
    assert was in words


def test_an_earlier_burn_lies_in_the_triangle_where_it_lay_on_its_own_card() -> None:
    then = two_sets(stack=("190", "202"))
    own = the_point(judged(then.case(), sheet()), now=True)
    case = replace(good().case(), history=(before(then, 350),))
    later = the_point(judged(case, sheet()), now=False)
    assert (later.o2_fraction, later.co2_fraction) == (own.o2_fraction, own.co2_fraction)
    assert later.air_ratio == pytest.approx(own.air_ratio, rel=1e-3), "but for its own carbon monoxide"
    assert later.o2_fraction == 0.06, "the first set counts, not the last"


def the_point(found: Assessment, *, now: bool) -> BurnPoint:
    assert found.triangle is not None
    return next(each for each in found.triangle.points if each.now is now and each.stage is Stage.AS_LEFT)


def value(visit: Visit, key: str, **more: Any) -> str | None:
    found = left_then(visit, [key]).reading(key, **more)
    return None if found is None else str(found.value)


def test_the_set_with_the_most_carbon_monoxide_counts_and_of_equals_the_later() -> None:
    visit = two_sets(stack=("190", "202")).case().visit
    assert value(visit, "flue_o2", basis="dry") == "6.0"
    assert value(visit, "flue_o2", basis="wet") is None
    assert value(visit, "flue_o2") == "6.0"
    cold = two_sets(stack=("190", "202")).drop("stack_gas_temperature").case().visit
    assert value(cold, "stack_gas_temperature", highest=True) is None
    nothing = Draft(readings=[], events=[], instruments={}).add("time_to_light", 60, "35 s").case().visit
    assert value(nothing, "time_to_light") == "35"
    unnamed = two_sets(stack=("190", "202"))
    for key in ("flue_o2", "flue_co", "flue_co2", "stack_gas_temperature"):
        unnamed.edit(key, test=None)
    assert value(unnamed.case().visit, "stack_gas_temperature") == "190", "a test without a name is one too"
    even = two_sets(stack=("190", "202"), co=("32", "32")).edit("flue_o2", shown="6.0 %").case().visit
    assert value(even, "stack_gas_temperature") == "202"
    # The same as read, more of it without the air: 30 ppm at 9 % is worse than 32 ppm at 6 %.
    thin = two_sets(stack=("190", "202"), co=("30", "32")).edit("flue_o2", nth=1, shown="9 %").case().visit
    assert value(thin, "stack_gas_temperature") == "190"
    unread = two_sets(stack=("190", "202")).drop("flue_co", nth=1, of=Stage.AS_LEFT).case().visit
    assert value(unread, "stack_gas_temperature") == "202"
    air = two_sets(stack=("190", "202")).edit("flue_o2", nth=2, shown="21 %").case().visit
    assert value(air, "stack_gas_temperature") == "190"
    bare = two_sets(stack=("190", "202")).drop("flue_o2", nth=1, of=Stage.AS_LEFT).case().visit
    assert value(bare, "stack_gas_temperature") == "190"
    assert value(bare, "flue_o2") is None, "no other set's oxygen stands for it"
    lone = two_sets(stack=("190", "202"), co=("50", "45")).drop("flue_o2", nth=1, of=Stage.AS_LEFT)
    assert value(lone.case().visit, "stack_gas_temperature") == "202", (
        "50 ppm as read, 64 ppm without the air"
    )
    thick = two_sets(stack=("190", "202"), co=("60", "900")).edit("flue_o2", nth=2, shown="21 %")
    assert value(thick.case().visit, "stack_gas_temperature") == "202", "more of it even as read"


def test_what_was_read_once_serves_all_sets_and_what_belongs_to_none_is_read_last() -> None:
    draft = two_sets(stack=("190", "202")).drop("stack_gas_temperature", nth=1)
    assert value(draft.case().visit, "stack_gas_temperature") == "202"
    draft.add("time_to_light", 60.6, "35 s").add("time_to_light", 70, "41 s", test="another")
    assert value(draft.case().visit, "time_to_light") == "41"
    assert value(draft.case().visit, "igniter_current") is None


def test_only_numbers_of_this_heater_as_left_count() -> None:
    draft = two_sets(stack=("190", "202"))
    for changes in (
        *({"stage": AS_FOUND}, {"heater": "another"}, {"at_top": True}, {"unit": "no such unit"}),
        *({"value": None}, {"value": Decimal("NaN")}),
    ):
        spoiled = draft.copy().edit("stack_gas_temperature", nth=1, **changes).case().visit
        assert value(spoiled, "stack_gas_temperature") == "202", changes
    before_it: dict[str, Any] = {"test": "test-0", "set_number": 1}
    old = draft.copy().add("flue_co", 50, "900 ppm", **before_it)
    old.add("stack_gas_temperature", 69.5, "300 degC", **before_it)
    assert value(old.case().visit, "stack_gas_temperature") == "190", "not of a test before"
    other = draft.copy().add("flue_co", 90, "20 ppm", test="test-2", set_number=1)
    other.add("stack_gas_temperature", 90, "180 degC", test="test-2", set_number=1)
    assert value(other.case().visit, "stack_gas_temperature") == "180", "the test that was read last"
    assert value(other.case().visit, "stack_gas_temperature", highest=True) == "180"

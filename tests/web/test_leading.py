"""The button at the foot leads as the card goes: arrival, what is looked at unlit, then what helps most."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from conftest import Bay

OWN = {"origin": "http://127.0.0.1"}


def following(bay: Bay, visit: str) -> dict[str, Any]:
    answer: dict[str, Any] = bay.client.post(f"/visits/{visit}/preview", json=[], headers=OWN).json()["next"]
    assert f'href="{answer["anchor"]}"' in bay.client.get(f"/visits/{visit}").text
    return answer


def seen(bay: Bay, key: str, state: str, *, stage: str = "as left") -> None:
    body = {"heater": bay.ids["heater"], "key": key, "stage": stage, "state": state}
    body |= {"taken_at": bay.clock().isoformat(), **({"test": "1"} if stage == "as left" else {})}
    bay.send(bay.entry(body))


def test_a_new_visit_leads_to_arrival_and_making_safe(bay: Bay, visit: str) -> None:
    first = following(bay, visit)
    assert first["anchor"] == "#step-arrive"
    assert first["label"] == "Arrive and isolate"
    assert first["line"] == "first: ventilate, CO alarm, isolate"


def test_after_arrival_what_is_looked_at_before_the_flame(bay: Bay, visit: str) -> None:
    seen(bay, "co_alarm", "present and in date", stage="as found")
    assert following(bay, visit)["anchor"] == "#f-exhaust_path-as_left"
    seen(bay, "exhaust_path", "sound and clear")
    assert following(bay, visit)["anchor"] == "#f-inlet_path-as_left"


@pytest.mark.parametrize("how", ["flame", "reading"])
def test_once_it_burns_what_helps_most(bay: Bay, visit: str, how: str) -> None:
    if how == "flame":
        moment = {"heater": bay.ids["heater"], "kind": "flame", "at": bay.clock().isoformat()}
        bay.send(bay.entry(moment, named="event"))
    else:
        bay.send(
            bay.reading(
                "flue_o2", "4.8", "%", basis="dry", set_number=1, instrument=bay.ids["flue_gas_probe"]
            )
        )
    assert following(bay, visit)["anchor"] == "#f-living_space_co_running-as_left"


def test_between_the_two_firings_the_work(bay: Bay, visit: str) -> None:
    def noted(kind: str) -> None:
        bay.clock.later(minutes=1)
        moment = {"heater": bay.ids["heater"], "kind": kind, "at": bay.clock().isoformat()}
        bay.send(bay.entry(moment, named="event"))

    noted("flame")
    assert following(bay, visit)["anchor"] != "#step-work"
    noted("flame out")
    assert following(bay, visit)["anchor"] == "#step-work"
    noted("opened")
    assert following(bay, visit)["anchor"] == "#step-work"
    noted("closed up")
    assert following(bay, visit)["anchor"] == "#f-exhaust_path-as_left"  # before it is fired again
    noted("flame")
    assert following(bay, visit)["anchor"] == "#f-living_space_co_running-as_left"


def test_while_it_burns_nothing_is_asked_that_waits_for_the_burner_to_be_off(bay: Bay, visit: str) -> None:
    def noted(kind: str) -> None:
        bay.clock.later(minutes=1)
        moment = {"heater": bay.ids["heater"], "kind": kind, "at": bay.clock().isoformat()}
        bay.send(bay.entry(moment, named="event"))

    seen(bay, "exhaust_path", "sound and clear")
    noted("flame")
    meter = bay.ids["living_space_co_meter"]
    for key in ("living_space_co_running", "outdoor_co"):
        bay.send(bay.reading(key, "1", "ppm", instrument=meter))
    asked = following(bay, visit)["anchor"]
    assert asked == "#f-light_off-as_left", "the first on the card that a gate lacks and that is seen lit"
    noted("flame out")
    bay.send(bay.reading("smoke_number", "0", "smoke no.", instrument=bay.ids["smoke_pump"]))
    assert following(bay, visit)["anchor"] == "#f-living_space_co_off-as_left"


def test_an_empty_visit_asks_nobody_to_choose(bay: Bay, visit: str) -> None:
    assert following(bay, visit)["anchor"] != "#conflicts"

"""The door of the bay: kept once, refused alone, judged with every keystroke."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from conftest import Bay

OWN = {"origin": "http://127.0.0.1"}


def preview(bay: Bay, *drafts: dict[str, Any]) -> dict[str, Any]:
    answer = bay.client.post(f"/visits/{bay.ids['visit']}/preview", json=list(drafts), headers=OWN)
    assert answer.status_code == 200, answer.text
    return answer.json()  # type: ignore[no-any-return]


def o2(bay: Bay, value: str = "4.8", **more: Any) -> dict[str, Any]:
    return bay.reading(
        "flue_o2",
        value,
        "%",
        **{"basis": "dry", "set_number": 1, "instrument": bay.ids["flue_gas_probe"], **more},
    )


def test_the_same_entry_twice_is_one(bay: Bay, visit: str) -> None:
    entry = o2(bay)
    assert [bay.send(entry)[0]["outcome"], bay.send(entry)[0]["outcome"]] == ["kept", "already kept"]
    assert len(bay.workshop.book.visit(visit).readings) == 1


def test_the_same_id_with_another_body_is_refused_and_the_row_beside_it_kept(bay: Bay, visit: str) -> None:
    entry = o2(bay)
    bay.send(entry)
    other = {**entry, "value": {**entry["value"], "value": "5.0"}}
    beside = bay.reading("flue_co", "38", "ppm", set_number=1)
    first, second = bay.send(other, beside)
    assert first["outcome"] == "refused"
    assert "is kept already and says something else" in first["sentence"]
    assert second["outcome"] == "kept"


@pytest.mark.parametrize("junk", ["NaN", "Infinity", "4,8", "1e400", "", "4.8 %"])
def test_a_number_that_is_none_is_refused_with_its_field(bay: Bay, visit: str, junk: str) -> None:
    (answer,) = bay.send(o2(bay, junk))
    assert answer["outcome"] == "refused"
    assert answer["field"] == "value"
    assert "must be a finite number sent as text" in answer["sentence"]
    assert bay.workshop.book.visit(visit).readings == ()


def test_a_float_is_refused(bay: Bay, visit: str) -> None:
    entry = o2(bay)
    entry["value"]["value"] = 4.8
    assert bay.send(entry)[0]["outcome"] == "refused"


def test_what_is_no_entry_is_told_in_a_sentence(bay: Bay, visit: str) -> None:
    for body in (
        {"not": "a list"},
        [{"id": "x"}],
        [{**o2(bay), "extra": 1}],
        [{**o2(bay), "at": "2026-11-25T14:00:00"}],
    ):
        answer = bay.client.post("/entries", json=body, headers=OWN)
        assert answer.status_code == 422
        assert "Nothing was kept. Mend it and send it again." in answer.json()["problem"]
    answer = bay.client.post(
        "/entries", content=b"\xff\xfe{", headers={**OWN, "content-type": "application/json"}
    )
    assert answer.status_code in {400, 422}
    assert "Traceback" not in answer.text


def test_a_correction_replaces_and_history_shows_both(bay: Bay, visit: str) -> None:
    first = o2(bay, "8.4")
    bay.send(first)
    second = {**o2(bay, "4.8"), "corrects": first["id"]}
    bay.send(second)
    (reading,) = bay.workshop.book.visit(visit).readings
    assert str(reading.value) == "4.8"
    history = bay.client.get(f"/visits/{visit}/history/flue_o2-as_left-1").text
    assert history.index("4.8 %") < history.index("8.4 %")
    assert "Take this one" in history


def test_the_preview_judges_and_keeps_nothing(bay: Bay, visit: str) -> None:
    answer = preview(
        bay,
        o2(bay),
        bay.reading(
            "flue_co2", "11.9", "%", basis="measured", set_number=1, instrument=bay.ids["flue_gas_probe"]
        ),
        bay.reading("flue_co", "38", "ppm", set_number=1, instrument=bay.ids["flue_gas_probe"]),
        bay.reading(
            "stack_gas_temperature", "236", "degC", set_number=1, instrument=bay.ids["flue_gas_probe"]
        ),
        bay.reading(
            "combustion_air_temperature", "11", "degC", set_number=1, instrument=bay.ids["flue_gas_probe"]
        ),
        bay.entry(
            {"heater": bay.ids["heater"], "started_at": bay.clock().isoformat(), "fuel": "diesel_2"},
            named="visit",
            corrects=bay.workshop.book.standing("visit", visit)[0].id,
        ),
    )
    assert answer["verdict"] == "not proven"
    assert "1.28" in answer["assessment"]
    assert "<svg" in answer["assessment"]
    assert answer["next"]["anchor"].startswith("#f-")
    assert "air-free" in answer["scales"]["flue_co-as_left-1"]
    assert bay.workshop.book.visit(visit).readings == ()


def test_the_preview_is_quick(bay: Bay, visit: str) -> None:
    drafts = [
        o2(bay),
        bay.reading("flue_co", "38", "ppm", set_number=1, instrument=bay.ids["flue_gas_probe"]),
    ]
    preview(bay, *drafts)
    spans = []
    for _ in range(7):
        began = time.perf_counter()
        preview(bay, *drafts)
        spans.append(time.perf_counter() - began)
    assert sorted(spans)[3] < 0.150


@pytest.mark.parametrize(
    ("key", "value", "unit", "more", "words"),
    [
        ("flue_o2", "25", "%", {"basis": "dry"}, "25"),
        ("flue_co2", "17.5", "%", {"basis": "measured"}, "17.5"),
        ("stack_gas_temperature", "5", "degC", {}, "5"),
    ],
)
def test_an_impossible_value_is_caught_kept_if_insisted_and_never_used(
    bay: Bay, visit: str, key: str, value: str, unit: str, more: dict[str, Any], words: str
) -> None:
    air = bay.reading(
        "combustion_air_temperature", "11", "degC", set_number=1, instrument=bay.ids["flue_gas_probe"]
    )
    entry = bay.reading(key, value, unit, set_number=1, instrument=bay.ids["flue_gas_probe"], **more)
    doubt = preview(bay, air, entry)["doubts"][entry["id"]]
    assert words in doubt["sentence"]
    insisted = {**entry, "value": {**entry["value"], "confirmed": True}}
    answer = preview(bay, air, insisted)
    assert answer["doubts"][entry["id"]]["sentence"]
    assert answer["doubts"][entry["id"]]["ask"] is False
    assert answer["verdict"] != "fit as tested"

"""The rise of carbon monoxide where people live, of the stage that no gate counted."""

from typing import Any

import pytest
from cases import AS_FOUND, METER, Draft, catalogue, good, limits, sheet, shelf

from lightoff.judging.assess import assess
from lightoff.judging.assessment import Figure

FOUND: dict[str, Any] = {"stage": AS_FOUND, "test": "found", "instrument": METER}


def rise(draft: Draft) -> Figure | None:
    facts: dict[str, Any] = {"limits": limits(), "catalogue": catalogue(), "now": draft.now}
    found = assess(draft.case(), sheet=sheet(), fuel=shelf().fuels["diesel_2"], **facts)
    return found.figure("living_space_co_rise", AS_FOUND)


def found(**ppm: str) -> Draft:
    draft = good()
    for key, value in ppm.items():
        draft.add(key, 5, f"{value} ppm", **FOUND)
    return draft


@pytest.mark.parametrize(
    ("running", "off", "of"),
    [("6", "3", "living_space_co_running"), ("3", "6", "living_space_co_off")],
)
def test_the_worse_of_running_and_off_above_outdoors(running: str, off: str, of: str) -> None:
    draft = found(living_space_co_running=running, living_space_co_off=off, outdoor_co="2")
    figure = rise(draft)
    assert figure is not None
    keys = {each.id: each.key for each in draft.readings}
    assert [keys[each] for each in figure.readings] == [of, "outdoor_co"]
    assert figure.estimate.value == pytest.approx(4e-6)
    assert figure.estimate.half_width == pytest.approx(2e-6 * 2**0.5)  # two readings of 2 ppm each
    assert figure.dimension == "trace_gas_fraction"
    assert figure.limit is not None
    assert figure.limit.key == "living_space_co_fit"


@pytest.mark.parametrize("key", ["living_space_co_running", "living_space_co_off"])
def test_without_outdoors_its_carbon_monoxide_counts_as_none(key: str) -> None:
    figure = rise(found(**{key: "6"}))
    assert figure is not None
    assert figure.estimate.value == pytest.approx(6e-6)
    assert figure.estimate.half_width == pytest.approx(2e-6)
    assert len(figure.readings) == 1


def test_outdoors_alone_is_no_rise() -> None:
    assert rise(found(outdoor_co="2")) is None

"""What the pages say of the example visits: plain words, and nothing that invites to fire what must rest."""

from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from lightoff.judging.assessment import Verdict
from lightoff.judging.noted import instead
from lightoff.report import content
from lightoff.shelf import open_shelf
from lightoff.terms.people import VehicleKind
from lightoff.terms.visit import Stage
from lightoff.texts import Speaker
from lightoff.work.assess_case import assess_case
from lightoff.work.visit_file import read_visit_file

EXAMPLES = Path(__file__).parents[2] / "examples"
SHELF = open_shelf()
SAY = Speaker()
NOW = datetime(2025, 3, 12, 16, tzinfo=UTC)
FIRES = ("light_off", "living_space_co_running", "fuel_joints_1_min", "after_run", "flue_o2", "smoke_number")


@cache
def pages(name: str, units: str = "metric", kind: str = "") -> dict[str, Any]:
    case = read_visit_file((EXAMPLES / f"{name}.toml").read_bytes(), name, SHELF)
    if kind:
        case = replace(case, vehicle=replace(case.vehicle, kind=VehicleKind(kind)))
    found = assess_case(case, SHELF, NOW)
    return content.content(case, found, shelf=SHELF, speaker=Speaker(units=units), photos={})


def said(runs: list[list[str]]) -> str:
    return "".join(text for _, text in runs).replace("\u00a0", " ")


def next_steps(name: str, units: str = "metric", kind: str = "") -> list[str]:
    return [said(each) for each in pages(name, units, kind)["next"]["paragraphs"]]


def test_a_stop_asks_for_no_reading() -> None:
    whole = pages("stop")
    still = whole["proof"]["open"]
    assert still["first"] == SAY.text("report.not_before_mended")
    assert still["rows"]
    told = str(whole)
    for key in FIRES:
        assert SAY.text(f"reading_how.{key}") not in told
    assert not any("not proven" in said(each) for each in whole["verdict"]["reasons"])


def test_what_was_read_and_not_believed_is_not_called_unread() -> None:
    text = (EXAMPLES / "with-probe.toml").read_text("utf-8")
    for value in ("4.8", "4.9"):
        text = text.replace(f'"flue_o2", value = {value}', '"flue_o2", confirmed = true, value = 25')
    case = read_visit_file(text.encode(), "visit.toml", SHELF)
    found = assess_case(case, SHELF, NOW)
    whole = content.content(case, found, shelf=SHELF, speaker=SAY, photos={})
    row = next(row for row in whole["measured"]["rows"] if row["name"] == SAY.text("report_figure.flue_o2"))
    assert (row["left"], row["absent"]) == (None, ["3.1\u00a0%", "not believed"])
    told = " ".join(row[1] for row in whole["proof"]["open"]["rows"]).replace("\u00a0", " ")
    assert "O₂ in the exhaust was read as 25 % and cannot be believed" in told


def test_what_was_read_as_found_and_is_judged_only_as_left_is_not_called_unread() -> None:
    case = read_visit_file((EXAMPLES / "no-probe.toml").read_bytes(), "visit.toml", SHELF)
    left = next(each for each in case.visit.readings if each.key == "after_run_time")
    found = replace(left, id=f"{left.id}0", stage=Stage.AS_FOUND, value=Decimal(121), test=None)
    case = replace(case, visit=replace(case.visit, readings=(*case.visit.readings, found)))
    assessment = assess_case(case, SHELF, NOW)
    assert instead(case, assessment, "after_run_time", Stage.AS_FOUND) == found
    assert instead(case, assessment, "flue_o2", Stage.AS_FOUND) == "not read"


@pytest.mark.parametrize(
    ("basis", "how"),
    [("dry", "O₂, dry"), ("wet", "O₂, wet"), (None, "O₂; dry or wet was not said")],
)
def test_oxygen_is_called_dry_only_where_it_was_said_to_be_dry(basis: str | None, how: str) -> None:
    case = read_visit_file((EXAMPLES / "with-probe.toml").read_bytes(), "visit.toml", SHELF)
    readings = tuple(
        replace(each, basis=basis) if each.key == "flue_o2" else each for each in case.visit.readings
    )
    case = replace(case, visit=replace(case.visit, readings=readings))
    found = assess_case(case, SHELF, NOW)
    whole = content.content(case, found, shelf=SHELF, speaker=SAY, photos={})
    row = next(row for row in whole["measured"]["rows"] if row["name"] == SAY.text("report_figure.flue_o2"))
    assert row["how"].split(", sets")[0] == how
    # The band of the sheet and the limit are of dry gas: no other number is drawn against them.
    assert (row["picture"] is not None) is (basis == "dry")


def test_what_is_not_fit_stays_off() -> None:
    told = next_steps("not-fit")
    assert told[0].startswith(SAY.text("until_then.not fit"))
    assert not any(SAY.text("report.switch_off") in each for each in told)


def test_a_shop_without_a_probe_says_what_it_lacked() -> None:
    told = next_steps("no-probe")
    assert (
        told[0] == "To prove the rest takes instruments that were not at hand: flue-gas probe and smoke pump."
    )


@pytest.mark.parametrize(("units", "height"), [("metric", "2,500 m"), ("us", "8,200 ft")])
def test_too_little_air_elsewhere_is_told_at_a_round_height(units: str, height: str) -> None:
    told = next_steps("with-probe", units, "coach")
    assert told[0].startswith(f"At {height} and ")
    assert "too little air" in told[0]
    assert not any("too little air" in each for each in next_steps("with-probe", units)), "a boat stays down"


def test_an_owner_hears_of_air_and_heat() -> None:
    told = [said(each) for each in pages("with-probe")["burn"]["said"]]
    assert told == [
        (
            "It burns with 27.8 ± 2.3 % more air than the fuel needs (lambda 1.28 ± 0.02); 11.0 ± 0.3 % of "
            "the fuel's heat leaves by the exhaust."
        ),
        "O₂ and CO₂ agree for this fuel.",
    ]


def test_a_share_says_of_what() -> None:
    rows = [row for _, group in pages("no-probe")["proof"]["limits"]["groups"] for row in group]
    limits = {row[0]: row[1].replace("\u00a0", " ") for row in rows}
    assert limits["Time to light"] == "at most 150 % of the longest"
    assert limits["Igniter current"] == "at least 85 % of expected, at most 115 % of expected"
    assert limits["Supply sag"] == "at most 8 % of that at rest"
    assert not any(limit.startswith(("at most 0.", "at most 1.", "at least 0.")) for limit in limits.values())


def test_what_a_meter_reads_stands_beside_how_well() -> None:
    rows = pages("with-probe")["proof"]["instruments"]["rows"]
    meter = next(row for row in rows if row[0].startswith("room CO meter"))
    assert meter[1].replace("\u00a0", " ") == (
        "± 2 ppm or 5 %, the larger: CO outdoors; CO inside, burner off; CO inside, burner running"
    )


@pytest.mark.parametrize("name", ["with-probe", "no-probe", "not-fit", "stop", "co2-calculated"])
def test_both_sets_are_told_where_they_differ(name: str) -> None:
    rows = {row["name"]: row["how"] for row in pages(name)["measured"]["rows"]}
    if name in ("no-probe", "stop"):
        assert not any("sets" in how for how in rows.values())
    else:
        assert "sets" in rows[SAY.text("report_figure.co_air_free")]
        assert "sets" in rows[SAY.text("report_figure.flue_o2")]


def test_the_verdict_of_each_example_is_what_these_tests_rest_on() -> None:
    states = {name: pages(name)["verdict"]["state"] for name in ("with-probe", "no-probe", "not-fit", "stop")}
    assert states == {
        "with-probe": SAY.text(f"verdict.{Verdict.FIT}"),
        "no-probe": SAY.text(f"verdict.{Verdict.NOT_PROVEN}"),
        "not-fit": SAY.text(f"verdict.{Verdict.NOT_FIT}"),
        "stop": SAY.text(f"verdict.{Verdict.STOP}"),
    }

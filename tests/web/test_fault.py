"""The pages that find a fault: what is asked first, the suspects, one step, and the call to the owner."""

from __future__ import annotations

import json
import re
from html import unescape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from click.testing import CliRunner
from starlette.testclient import TestClient

from lightoff.cli import main
from lightoff.faultfinding import telling
from lightoff.texts import Speaker
from lightoff.work.find_fault import AREAS, find_fault
from lightoff.work.workshop import Workshop

if TYPE_CHECKING:
    from conftest import Bay

SAY = Speaker()
OWN = {"origin": "http://127.0.0.1"}


def said(bay: Bay, key: str, state: str | None = None, **more: Any) -> dict[str, Any]:
    """One answer, as the page's script sends it."""
    body = {
        "heater": bay.ids["heater"],
        "key": key,
        "stage": "as found",
        "taken_at": bay.clock().isoformat(),
        **more,
    }
    return bay.entry({**body, "state": state} if state else body)


def answer(bay: Bay, **answers: str) -> None:
    for key, state in answers.items():
        bay.clock.later(seconds=20)
        (kept,) = bay.send(said(bay, key, state))
        assert kept["outcome"] == "kept", kept


def page(bay: Bay, room: str = "fault") -> str:
    got = bay.client.get(f"/visits/{bay.ids['visit']}/{room}")
    assert got.status_code == 200
    return got.text


def step_of(html: str) -> str:
    return html.partition('id="step"')[2].partition("</section>")[0]


def asked(html: str) -> list[str]:
    """The fields of the step, by reading."""
    return re.findall(r'data-key="([a-z_0-9]+)"', step_of(html))


def suspects(html: str) -> list[tuple[str, float]]:
    found = re.findall(r'data-fault="([a-z_]+)" data-chance="([0-9.e-]+)"', html)
    return [(fault, float(chance)) for fault, chance in found]


def test_the_owners_words_are_asked_for_before_anybody_is_suspected(bay: Bay, visit: str) -> None:
    html = page(bay)
    assert asked(html) == ["owner_says"]
    assert not suspects(html)
    answer(bay, owner_says="lights then dies")
    html = page(bay)
    assert asked(html) == ["last_work"]
    assert len(suspects(html)) > 3
    assert "<h1>Lights, then dies</h1>" in html


def test_the_numbers_are_those_of_the_finding(bay: Bay, visit: str) -> None:
    answer(bay, owner_says="lights then dies", last_work="fuel filter")
    found = find_fault(bay.workshop, visit)
    html = page(bay)
    assert suspects(html) == [(each.fault, each.chance) for each in found.finding.suspects]
    first = found.finding.suspects[0]
    share = SAY.say(telling.share(first.chance, first.low, first.high))
    assert share in unescape(re.sub("<[^>]+>", "", html))
    assert f">{SAY.say(telling.step_name(found.next_step))}</h2>" in html


def test_what_speaks_for_a_suspect_is_more_than_the_title_says(bay: Bay, visit: str) -> None:
    """The owner's words are the page's title and speak for all alike; another reading comes before them."""
    answer(bay, owner_says="lights then dies", last_work="fuel filter", last_good_run="this week")
    first = re.findall(r'<li class="suspect".*?</li>', page(bay), flags=re.DOTALL)[0]
    text = unescape(re.sub("<[^>]+>", "", first))
    assert "Fuel filter fitted without filling" in text
    assert "Last touched before the trouble: fuel filter, which fits it." in text


def test_it_says_for_which_height_and_fuel_it_weighs(bay: Bay, visit: str) -> None:
    answer(bay, owner_says="lights, then dies")
    unsaid = re.sub(r"<[^>]+>", "", page(bay))
    assert "sea level, since nobody said the height, and No. 2 diesel, since nobody said the fuel." in unsaid
    assert f'href="/visits/{visit}#a-place"' in page(bay)
    about = {"heater": bay.ids["heater"], "started_at": bay.clock().isoformat(), "fuel": "b5"}
    about |= {"place": {"name": "High Fork", "altitude_m": "2900"}}
    (kept,) = bay.send(
        bay.entry(about, named="visit", corrects=bay.workshop.book.standing("visit", visit)[0].id)
    )
    assert kept["outcome"] == "kept", kept
    told = re.sub(r"<[^>]+>", "", page(bay)).replace("\u00a0", " ")
    assert "Weighed for 2,900 m and B5." in told
    assert "Say it on the card" not in told


def test_three_suspects_stand_open_and_the_rest_is_folded(bay: Bay, visit: str) -> None:
    answer(bay, owner_says="gives little heat", last_work="nothing")
    html = page(bay)
    opened, _, folded = html.partition('<details class="more"><summary>')
    assert len(suspects(opened)) == 3
    assert len(suspects(folded)) == len(suspects(html)) - 3 > 0
    for each in re.findall(r'<li class="suspect".*?</li>', html, flags=re.DOTALL):
        assert each.count(">For</b>") == each.count(">Against</b>") == 1


def test_no_code_of_the_catalogue_is_shown(bay: Bay, visit: str) -> None:
    answer(bay, owner_says="tries without flame", last_work="igniter", fan_sound="silent")
    text = unescape(re.sub(r"<(script|style).*?</\1>|<[^>]+>", " ", page(bay), flags=re.DOTALL))
    for fault in bay.workshop.shelf.faults:
        if "_" in fault:
            assert fault not in text


def test_it_counts_the_answers_and_takes_the_last_one_back(bay: Bay, visit: str) -> None:
    assert "no answer yet" in page(bay)
    answer(bay, owner_says="lights then dies")
    (kept,) = bay.send(said(bay, "last_work", "fuel filter"))
    html = page(bay)
    assert "2 answers," in html
    assert f'id="take-back" data-entry="{kept["id"]}"' in html
    bay.send(bay.entry(None, corrects=kept["id"]))
    html = page(bay)
    assert "1 answer," in html
    assert asked(html) == ["last_work"]


def test_what_was_seen_can_be_put_down_though_nobody_asked_for_it(bay: Bay, visit: str) -> None:
    """Two minutes by the clock, or soot at the outlet: every reading that tells a cause stands in a list."""
    answer(bay, owner_says="lights then dies", last_work="fuel filter")
    listed = page(bay).partition('id="any-else"')[2].partition("</details>")[0]
    choices = re.findall(r"step=reading\.([a-z_0-9]+)#step", listed)
    assert {"run_time_before_stop", "hot_water", "tank_bottom_look", "exhaust_outlet_look"} <= set(choices)
    assert not {"owner_says", "last_work", "hour_meter"} & set(choices)
    names = re.findall(r"<b>(.+?)</b>", listed)
    assert names == sorted(names, key=str.lower)
    assert len(choices) == len(set(choices)) == len(names)
    answer(bay, exhaust_outlet_look="blocked")
    assert "exhaust_outlet_look" not in page(bay).partition('id="any-else"')[2].partition("</details>")[0]


def test_what_cannot_be_had_is_asked_no_more(bay: Bay, visit: str) -> None:
    answer(bay, owner_says="lights then dies")
    (kept,) = bay.send(said(bay, "last_work", note="could not do"))
    assert kept["outcome"] == "kept", kept
    html = page(bay)
    assert asked(html)
    assert "last_work" not in asked(html)
    assert "not to be had" in html
    assert "last_work" in find_fault(bay.workshop, visit).evidence.not_possible


def test_a_step_of_ones_own_choice_and_a_repair_with_its_part(bay: Bay, visit: str) -> None:
    answer(bay, owner_says="tries without flame", last_work="nothing")
    html = bay.client.get(f"/visits/{visit}/fault?step=repair.igniter_open").text
    assert asked(html) == ["repair_igniter_open"]
    assert "with igniter" in html
    assert SAY.text("fault_words.igniter_open") in unescape(html)
    assert 'value="could not do"' not in step_of(html), "said at the foot, for every kind of step"
    again = bay.client.get(f"/visits/{visit}/fault?step=reading.chamber_look").text
    assert asked(again) == ["chamber_look"]
    nonsense = bay.client.get(f"/visits/{visit}/fault?step=repair.gremlins")
    assert nonsense.status_code == 200
    assert asked(nonsense.text) == ["trials_without_flame"]


def test_after_starts_without_flame_nothing_is_started_before_somebody_has_looked(
    bay: Bay, visit: str
) -> None:
    answer(bay, owner_says="tries without flame", last_work="nothing", light_off="did not light")
    bay.send(said(bay, "trials_without_flame", value="2", unit="count"))
    html = page(bay)
    assert 'class="verdict is-stop"' in html
    assert "Look into the chamber" in html
    repair = bay.client.get(f"/visits/{visit}/fault?step=repair.igniter_open").text
    assert "no further start" in step_of(repair), "the caution stands at the step, too"
    answer(bay, chamber_look="wet")
    wet = page(bay)
    assert "The chamber is wet" in wet
    assert "?step=reading.chamber_look#step" in wet


def test_on_the_telephone_no_start_stands_before_the_next_question(bay: Bay, visit: str) -> None:
    answer(bay, fumes_inside="none", owner_says="tries without flame", last_work="nothing")
    bay.send(said(bay, "trials_without_flame", value="3", unit="count"))
    html = page(bay, "telephone")
    assert html.count('class="verdict is-stop"') == 1
    assert html.index('class="verdict is-stop"') < html.index('id="step"')


def test_a_number_field_has_its_band(bay: Bay, visit: str) -> None:
    answer(bay, owner_says="lights then dies", last_work="nothing")
    step = step_of(bay.client.get(f"/visits/{visit}/fault?step=reading.supply_voltage_rest").text)
    assert re.search(r"expected [\d.]+ to [\d.]+", step)
    assert "with multimeter" in step


def test_the_probe_in_the_pipe_offers_all_that_it_reads(bay: Bay, visit: str) -> None:
    answer(bay, owner_says="smokes or smells", last_work="nothing")
    got = bay.client.get(f"/visits/{visit}/fault?step=reading.flue_o2").text
    assert asked(got)[0] == "flue_o2"
    found = find_fault(bay.workshop, visit)
    (probe,) = [each for each in found.finding.steps if each.key == "flue_o2"]
    assert asked(got)[1:] == list(probe.along) == ["flue_co2", "flue_co", "stack_gas_temperature"]


def test_the_visits_card_leads_here_and_says_where_the_search_stands(bay: Bay, visit: str) -> None:
    html = bay.client.get(f"/visits/{visit}").text
    assert f'href="/visits/{visit}/fault"' in html
    answer(bay, owner_says="lights then dies", last_work="fuel filter")
    assert "2 answers, the last at" in bay.client.get(f"/visits/{visit}").text


@pytest.mark.parametrize("room", ["fault", "telephone"])
def test_the_heaters_page_leads_to_both_and_goes_on_with_the_open_visit(bay: Bay, room: str) -> None:
    heater = bay.ids["heater"]
    html = bay.client.get(f"/heaters/{heater}").text
    assert f'name="to" value="{room}"' in html
    assert f'href="/heaters/{heater}/elsewhere"' in html

    def began(to: str) -> str:
        answered = bay.client.post(
            f"/heaters/{heater}/visits", data={"to": to}, headers=OWN, follow_redirects=False
        )
        return answered.headers["location"]

    first = began(room)
    assert first.endswith(f"/{room}")
    assert began(room) == first
    assert began("//elsewhere.example") == first.removesuffix(f"/{room}")


def test_a_call_asks_for_danger_first_and_ends_in_one_thing(bay: Bay, visit: str) -> None:
    html = page(bay, "telephone")
    assert asked(html) == ["fumes_inside"]
    assert SAY.text("telephone_ask.fumes_inside") in unescape(step_of(html))
    assert "question 1 of at most 7" in html
    answer(bay, fumes_inside="none", owner_says="does nothing", last_work="nothing")
    html = page(bay, "telephone")
    assert asked(html) == ["panel_switch"]
    assert "prove dead" not in step_of(html), "an owner opens nothing"
    answer(bay, panel_switch="off")
    html = page(bay, "telephone")
    assert "Try this" in html
    assert asked(html) == ["repair_switch_off"]
    assert "Stop, ventilate" not in html
    assert "Come, carrying" not in html
    answer(bay, repair_switch_off="runs well")
    assert "It runs again" in page(bay, "telephone")


def test_a_call_about_a_heater_that_stood_for_long_asks_for_one_start_more(bay: Bay, visit: str) -> None:
    answer(bay, fumes_inside="none", owner_says="lights then dies", last_work="nothing")
    assert asked(page(bay, "telephone")) == asked(page(bay)) == ["last_good_run"]
    answer(bay, last_good_run="last season")
    assert "It stood for long" in page(bay)
    assert asked(page(bay, "telephone")) == ["fuel_at_pickup"]
    answer(bay, fuel_at_pickup="above the pick-up")
    assert asked(page(bay, "telephone")) == ["starts_tried"]
    bay.send(said(bay, "starts_tried", value="1", unit="count"))
    answer(bay, fuel_smell="none")
    html = page(bay, "telephone")
    assert asked(html) == ["start_once_more"]
    assert "switch it on once" in html
    answer(bay, start_once_more="no change")
    after = page(bay, "telephone")
    assert "switch it on once" not in after
    assert "It stood for long" not in page(bay), "that start filled the line"


def test_a_call_that_hears_of_an_alarm_stops(bay: Bay, visit: str) -> None:
    answer(bay, fumes_inside="alarm sounded")
    html = page(bay, "telephone")
    assert 'class="verdict is-stop"' in html
    assert "Everybody out" in html
    assert "an alarm sounded" in html
    assert asked(html) == []
    assert 'id="do"' not in html, "there is nothing more to answer"


def test_a_call_that_ends_in_a_trip_names_parts(bay: Bay, visit: str) -> None:
    answer(bay, fumes_inside="none", owner_says="gives little heat", last_work="nothing")
    html = page(bay, "telephone")
    for _ in range(4):
        (key,) = asked(html)
        bay.send(said(bay, key, note="could not do"))
        html = page(bay, "telephone")
    assert "Come, carrying" in html
    assert "<li>zone valve</li>" in html
    covered = re.search(r"mend (\d+) in a hundred", html)
    assert covered is not None
    assert 40 <= int(covered[1]) < 90, "an owner who knows nothing"
    assert "exchanger" not in html


def test_nothing_here_touches_the_verdict(bay: Bay, visit: str) -> None:
    def verdict() -> str:
        return str(bay.client.post(f"/visits/{visit}/preview", json=[], headers=OWN).json()["verdict"])

    before = verdict()
    answer(bay, fumes_inside="none", owner_says="runs well", last_work="nothing")
    assert verdict() == before == "not proven"


def test_what_hides_the_cause_is_read_again_and_asked_for_once(bay: Bay, visit: str) -> None:
    """A blocked inlet and a flow typed a hundred times too large: the page asks for the flow again."""
    answer(
        bay, owner_says="smokes or smells", last_work="nothing", smoke_colour="black", inlet_path="restricted"
    )
    bay.send(said(bay, "flue_o2", value="2.0", unit="%"))
    (flow,) = bay.send(said(bay, "coolant_flow", value="120", unit="L/min"))
    html = page(bay)
    step = unescape(re.sub("<[^>]+>", " ", step_of(html)))
    assert "Read again: Coolant flow" in step
    assert asked(html) == ["coolant_flow"]
    assert 'value="120"' in step_of(html), "what stands is shown"
    assert 'id="same"' in html
    assert 'id="cannot"' not in html, "a reading that stands is never wiped by not being read again"
    assert "No fault of the catalogue explains" in html
    bay.clock.later(seconds=60)
    same = {**said(bay, "coolant_flow", value="120", unit="L/min", confirmed=True), "corrects": flow["id"]}
    (kept,) = bay.send(same)
    assert kept["outcome"] == "kept", kept
    html = page(bay)
    assert asked(html) != ["coolant_flow"], "read again and the same: not asked a third time"
    assert "Hand over to the maker" in html


def test_the_very_case_leads_to_its_cause_and_ends_with_showing_that_it_runs(bay: Bay, visit: str) -> None:
    """Lights, burns two minutes, dies; 2,900 m; fuel filter changed last week: it was fitted unfilled."""
    card = bay.client.get(f"/visits/{visit}").text
    body, entry = (
        unescape(re.findall(rf'data-visit-{each}="([^"]*)"', card)[0]) for each in ("body", "entry")
    )
    there = {**json.loads(body), "place": {"name": "pass", "altitude_m": "2900"}}
    (kept,) = bay.send(bay.entry(there, named="visit", corrects=entry))
    assert kept["outcome"] == "kept", kept
    assert find_fault(bay.workshop, visit).conditions.altitude_m == 2900.0
    bay.send(said(bay, "run_time_before_stop", value="120", unit="s"))
    truth = {
        "owner_says": "lights then dies",
        "last_work": "fuel filter",
        "flame_look": "pulsing",
        "burner_sound": "pulsing",
        "smoke_colour": "black",  # so high up it burns rich till it dies
        "exhaust_smell": "sharp",
        "coolant_level": "full",
        "fuel_at_pickup": "above the pick-up",
        "fuel_filter_look": "clean",
        "fuel_bought": "here and lately",
        "filter_fill": "part empty",
        "repair_fuel_filter_not_primed": "runs well",
    }
    taken: list[str] = []
    while "Show that it runs well" not in step_of(html := page(bay)):
        key, *_ = asked(html)
        if taken:  # the first is the owner's own words
            assert suspects(html), "suspects stand beside every step"
        assert key not in taken
        taken.append(key)
        assert len(taken) < 12, taken
        if key in truth:
            answer(bay, **{key: truth[key]})
        else:
            bay.clock.later(seconds=20)
            (kept,) = bay.send(said(bay, key, note="could not do"))
            assert kept["outcome"] == "kept", kept
    assert taken[:2] == ["owner_says", "last_work"]
    assert taken[-1] == "repair_fuel_filter_not_primed"
    assert not set(taken) & {"coolant_temperature_supply", "stack_gas_temperature"}
    assert "It runs well after this repair" in unescape(re.sub("<[^>]+>", "", html))


def test_the_age_of_a_part_is_told_and_its_file_gives_the_same_numbers(
    shop: Workshop, client: TestClient, tmp_path: Path
) -> None:
    entries = shop.shelf.catalogue.entries
    looked_for = (
        visit
        for heater in shop.book.heaters()
        for visit in shop.book.visits_of(heater.id)
        if any(each.key in entries and entries[each.key].area in AREAS for each in visit.readings)
    )
    told = 0
    for visit in looked_for:
        html = client.get(f"/visits/{visit.id}/fault").text
        if asked(html) == ["owner_says"]:
            assert not suspects(html)  # nobody is suspected before they were asked for
            continue
        shown = re.findall(r'data-fault="(\w+)" data-chance="(\S+)" data-low="(\S+)" data-high="(\S+)"', html)
        for kind in ("toml", "json"):
            file = tmp_path / f"{visit.id}.{kind}"
            file.write_bytes(client.get(f"/visits/{visit.id}.{kind}").content)
            got = CliRunner().invoke(main, ["find", str(file), "--json", "--shop", str(shop.folder)])
            found = json.loads(got.stdout)["suspects"]
            assert [(fault, *map(float, chances)) for fault, *chances in shown] == [
                (each["fault"], each["chance"], each["low"], each["high"]) for each in found
            ]
        ages = [each for one in found for each in (*one["for"], *one["against"]) if " old; " in each]
        words = unescape(re.sub(r"<[^>]+>", "", html))
        assert all(each in words for each in ages)
        assert b"[[fitted]]" in (tmp_path / f"{visit.id}.toml").read_bytes()
        told += bool(ages)
        if told == 2:
            break
    assert told == 2

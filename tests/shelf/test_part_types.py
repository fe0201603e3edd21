"""Part types: what ships is whole and says that it is judgement; a shop adds and edits, errors are said."""

from decimal import Decimal
from pathlib import Path

import pytest

from lightoff.shelf import Shelf, open_shelf
from lightoff.terms.shelf import PartType
from lightoff.texts import Speaker
from lightoff.texts.speaker import templates
from lightoff.wear.lives import Clock
from lightoff.wear.posterior import LifePrior

SHIPPED = open_shelf()
OWN = """
[[part]]
key = "sound_mat"
label = "Sound mat"
clock = "months"
minutes = 20
life = 60
life_spread = 0.9
shape = 2
shape_spread = 0.4
source = "our own judgement"
supersedes = ["cover_seal"]
readings = ["burner_sound"]
"""


def shop(folder: Path, text: str) -> Shelf:
    (folder / "part_types.toml").write_text(text, encoding="utf-8")
    return open_shelf(folder)


def said(shelf: Shelf) -> str:
    return " ".join(Speaker().say(each.message) for each in shelf.problems)


def test_the_annual_items_are_those_of_the_trade_and_the_igniter_is_none() -> None:
    annual = {each.key for each in SHIPPED.part_types.values() if each.annual}
    assert annual == {"nozzle_filter", "nozzle_ring", "fuel_filter", "fuel_filter_seal", "intake_filter"}
    igniter = SHIPPED.part_types["igniter"]
    assert (igniter.annual, igniter.carried, igniter.kept) == (False, True, True)
    assert SHIPPED.part_types["nozzle"].stamped


@pytest.mark.parametrize("part", SHIPPED.part_types.values(), ids=lambda part: part.key)
def test_each_has_a_name_a_possible_prior_and_says_that_it_is_judgement(part: PartType) -> None:
    assert f"part.{part.key}" in templates("en")
    assert part.source == "judgement, no source"
    assert part.readings
    LifePrior(
        clock=Clock(part.clock),
        life=part.life,
        life_spread=part.life_spread,
        shape=part.shape,
        shape_spread=part.shape_spread,
        basis=part.source,
    )


def test_no_price_ships_and_nothing_that_shuts_the_burner_off_becomes_a_spare() -> None:
    assert all(each.price is None for each in SHIPPED.part_types.values())
    assert not any(SHIPPED.part_types[key].kept for key in ("high_limit", "aquastat"))


def test_every_fault_that_uses_up_a_part_with_a_life_is_named_by_a_part_type() -> None:
    named = {fault for each in SHIPPED.part_types.values() for fault in each.faults}
    kinds = SHIPPED.part_types.keys() & {each.part for each in SHIPPED.faults.values()}
    missing = {
        each.key for each in SHIPPED.faults.values() if each.part in kinds and each.key not in named
    } - FROM_OUTSIDE
    assert not missing


# These are mended with the part, but come from what flowed through it.
FROM_OUTSIDE = {"fuel_gelled", "water_in_fuel", "tank_sludge"}


def test_a_shop_adds_a_part_type_of_its_own(tmp_path: Path) -> None:
    shelf = shop(tmp_path, OWN)
    assert not said(shelf)
    assert shelf.part_types["sound_mat"].supersedes == ("cover_seal",)
    assert shelf.part_types["sound_mat"].minutes_when_open == 20
    assert shelf.sha256 != SHIPPED.sha256
    speaker = Speaker(own=shelf.own_words)
    assert speaker.text("part.sound_mat") == "Sound mat"


def test_a_shop_edits_price_and_life_and_the_rest_stands(tmp_path: Path) -> None:
    edit = '[[edit]]\nkey = "igniter"\nprice = "84.50"\nnumber = "IG 7"\n'
    shelf = shop(tmp_path, edit + '[[edit]]\nkey = "fan"\nlife = 9000\n')
    assert not said(shelf)
    igniter, fan = shelf.part_types["igniter"], shelf.part_types["fan"]
    assert (igniter.price, igniter.life) == (Decimal("84.50"), SHIPPED.part_types["igniter"].life)
    assert (igniter.source, igniter.number) == ("judgement, no source", "IG 7")
    assert (fan.life, fan.source, fan.clock) == (9000, "the shop's own", "run_hours")


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ('[[edit]]\nkey = "igniter"\nclock = "months"\n', "toml, edit igniter: “clock” means nothing"),
        ('[[edit]]\nkey = "ignitor"\nprice = 1\n', "“key” is ignitor; it must be one of: nozzle_filter"),
        ('[[edit]]\nkey = "igniter"\n', "nothing is said of “key”. Give one of: price, life"),
        ('[[edit]]\nkey = "igniter"\nprice = -1\n', "“price” is -1; it must lie from 0 to"),
        ('[[edit]]\nkey = "igniter"\nlife_spread = 0.1\n', "“life_spread” is 0.1; it must lie from 0.4 to 3"),
        ('[[edit]]\nkey = "igniter"\nminutes = 5\n', "“minutes_when_open” is 10; it must lie from 0 to 5"),
        (OWN.replace('"cover_seal"', '"fan"'), "of “fan”, whose lives are counted in run_hours"),
        (OWN.replace('"sound_mat"', '"igniter"'), "“igniter” stands on the shelf already"),
        (OWN.replace("months", "weeks"), "“clock” is weeks; it must be one of: run_hours, starts, months"),
        (OWN.replace('"burner_sound"', '"mat_look"'), "“readings” is mat_look; it must be one of:"),
        (OWN.replace('source = "our own judgement"\n', ""), "“source” is missing. Add it."),
    ],
)  # fmt: skip
def test_what_cannot_be_is_said_with_file_row_and_cure(tmp_path: Path, text: str, sentence: str) -> None:
    shelf = shop(tmp_path, text)
    assert sentence in said(shelf)
    assert shelf.part_types == SHIPPED.part_types


def test_what_a_part_takes_of_the_van_and_when_it_is_renewed_by_use_can_be_said(tmp_path: Path) -> None:
    own = '[[edit]]\nkey = "fuel_filter"\nrenew_every = 1000\nmass_kg = 0.6\nvolume_l = 1.5\n'
    part = shop(tmp_path, own).part_types["fuel_filter"]
    assert (part.renew_every, part.mass_kg, part.volume_m3) == (1000.0, 0.6, pytest.approx(0.0015))
    assert SHIPPED.part_types["fuel_filter"].renew_every is None
    assert all(each.mass_kg > 0.0 and each.volume_m3 > 0.0 for each in SHIPPED.part_types.values())


def test_a_heavy_slip_of_the_pen_is_refused(tmp_path: Path) -> None:
    shelf = shop(tmp_path, '[[edit]]\nkey = "fuel_filter"\nmass_kg = 400\n')
    assert shelf.part_types["fuel_filter"].mass_kg == SHIPPED.part_types["fuel_filter"].mass_kg
    assert "mass_kg" in said(shelf)

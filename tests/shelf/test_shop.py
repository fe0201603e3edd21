"""A shop's own folder: added to, only ever tightened, and every fault said in a sentence."""

from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lightoff.ground.message import message
from lightoff.shelf import open_shelf
from lightoff.shelf.files import LARGEST_FILE_BYTES
from lightoff.terms.shelf import Comparison
from lightoff.texts import Speaker

SHIPPED = open_shelf()


def said(shelf: object) -> str:
    return " ".join(Speaker().say(each.message) for each in shelf.problems)  # type: ignore[attr-defined]


def shop(folder: Path, **files: str) -> Path:
    for name, text in files.items():
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    return folder


def test_a_tightened_limit_stands_and_changes_the_hash(tmp_path: Path) -> None:
    shelf = open_shelf(shop(tmp_path, limits='[[tighten]]\nkey = "co_air_free_fit"\nvalue = 100\n'))
    assert not shelf.problems
    assert shelf.limits.rows["co_air_free_fit"].value == Decimal(100)
    assert shelf.limits.sha256 != SHIPPED.limits.sha256


def test_a_loosened_limit_is_refused_and_the_shipped_one_stands(tmp_path: Path) -> None:
    shelf = open_shelf(shop(tmp_path, limits='[[tighten]]\nkey = "co_air_free_fit"\nvalue = 5000\n'))
    assert shelf.limits.rows["co_air_free_fit"].value == Decimal(200)
    assert shelf.limits.sha256 == SHIPPED.limits.sha256
    assert "limits.toml" in said(shelf)
    assert "“co_air_free_fit” was given as 5000\u00a0ppm, which would loosen it" in said(shelf)


NUMERIC = sorted(key for key, row in SHIPPED.limits.rows.items() if row.value is not None)


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(key=st.sampled_from(NUMERIC), value=st.decimals(-10_000, 10_000, places=3, allow_nan=False))
def test_no_edit_ever_loosens(tmp_path: Path, key: str, value: Decimal) -> None:
    shelf = open_shelf(shop(tmp_path, limits=f'[[tighten]]\nkey = "{key}"\nvalue = "{value}"\n'))
    was, now = SHIPPED.limits.rows[key], shelf.limits.rows[key]
    if was.comparison in (Comparison.AT_MOST, Comparison.BELOW):
        assert now.value is not None
        assert was.value is not None
        assert now.value <= was.value
    elif was.comparison is Comparison.AT_LEAST:
        assert now.value is not None
        assert was.value is not None
        assert now.value >= was.value
    else:
        assert (now.value, (now.tolerance or 0) <= (was.tolerance or 0)) == (was.value, True)


def test_a_method_constant_cannot_be_touched(tmp_path: Path) -> None:
    shelf = open_shelf(shop(tmp_path, limits='[[tighten]]\nkey = "air_o2"\nvalue = 21\n'))
    assert "“air_o2” is part of the method and cannot be changed." in said(shelf)


def test_a_good_row_beside_a_bad_one_is_kept(tmp_path: Path) -> None:
    text = '[[tighten]]\nkey = "no_such"\nvalue = 1\n[[tighten]]\nkey = "smoke_number_fit"\nvalue = 0.5\n'
    shelf = open_shelf(shop(tmp_path, limits=text))
    assert shelf.limits.rows["smoke_number_fit"].value == Decimal("0.5")
    assert "“key” is no_such; it must be one of:" in said(shelf)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("[[tighten]\n", "limits.toml is not TOML:"),
        ('[[tighten]]\nkey = "smoke_number_fit"\nvalue = nan\n', "which is no finite number"),
        ('[[tighten]]\nkey = "smoke_number_fit"\nvalue = true\n', "which is no finite number"),
        ('[[tighten]]\nkey = "smoke_number_fit"\n', "“value” is missing. Add it."),
        ('[[limit]]\nkey = "mine"\n', "“limit” means nothing here. Use one of: tighten."),
        ('[[tighten]]\nkey = "smoke_number_fit"\nvalue = 1\nvalue = 2\n', "is not TOML"),
    ],
)
def test_faults_are_said(tmp_path: Path, text: str, sentence: str) -> None:
    shelf = open_shelf(shop(tmp_path, limits=text))
    assert sentence in said(shelf)
    assert shelf.limits.sha256 == SHIPPED.limits.sha256


def test_wrong_encoding_and_size(tmp_path: Path) -> None:
    (tmp_path / "limits.toml").write_bytes("[[tighten]]".encode("utf-16"))
    assert "The file limits.toml is not UTF-8. Save it again as UTF-8." in said(open_shelf(tmp_path))
    (tmp_path / "limits.toml").write_bytes(b"#" * (LARGEST_FILE_BYTES + 1))
    assert "at most 5,000,000 bytes are read" in said(open_shelf(tmp_path))


def test_a_byte_order_mark_is_no_fault(tmp_path: Path) -> None:
    (tmp_path / "limits.toml").write_bytes(b"\xef\xbb\xbf[[tighten]]\nkey = 'smoke_number_fit'\nvalue = 0\n")
    assert not open_shelf(tmp_path).problems


def test_a_fuel_by_its_data_sheet(tmp_path: Path) -> None:
    text = """
[fuel.depot]
name = "Depot diesel"
carbon = ["0.865", "0.004", "data sheet of the depot"]
hydrogen = ["0.135", "0.004", "data sheet of the depot"]
density_15c_kg_m3 = ["835", "5", "data sheet of the depot"]
net_heat_mj_kg = ["43.0", "0.3", "data sheet of the depot"]
"""
    shelf = open_shelf(shop(tmp_path, fuels=text))
    assert not shelf.problems
    assert shelf.fuels["depot"].net_heating_value_j_kg == pytest.approx(43.0e6)
    assert shelf.fuels["depot"].cloud_point_caution == "fuel_caution.waxes"


def test_a_fuel_that_cannot_be_is_refused_with_its_reason(tmp_path: Path) -> None:
    text = """
[fuel.wonder]
name = "Wonder"
carbon = ["0.5", "0", "invented source"]
hydrogen = ["0.1", "0", "invented source"]
density_15c_kg_m3 = ["835", "5", "invented source"]
net_heat_mj_kg = ["43.0", "0.3", "invented source"]
"""
    shelf = open_shelf(shop(tmp_path, fuels=text))
    assert "wonder" not in shelf.fuels
    assert said(shelf).startswith("In fuels.toml, fuel.wonder:")


def test_a_shipped_key_cannot_be_replaced(tmp_path: Path) -> None:
    text = '[blend.diesel_2]\nname = "Mine"\nof = { diesel_1 = 1 }\n'
    shelf = open_shelf(shop(tmp_path, fuels=text))
    assert "“diesel_2” stands on the shelf already." in said(shelf)


def sheet(**changes: str) -> str:
    source = Path(__file__).parents[2] / "src/lightoff/shelf/data/sheets/generic_9_kw.toml"
    lines = source.read_text(encoding="utf-8").splitlines()
    changes = {"key": '"mine"', **changes}
    return "\n".join(
        f"{name} = {changes[name]}" if (name := line.split(" = ")[0]) in changes else line
        for line in [*lines, ""]
    )


def test_a_sheet_from_a_plate(tmp_path: Path) -> None:
    (tmp_path / "sheets").mkdir()
    (tmp_path / "sheets" / "mine.toml").write_text(sheet(heat_output_kw='"10"'), encoding="utf-8")
    assert open_shelf(tmp_path).sheets["mine"].heat_output_w == 10_000


def test_a_sheet_out_of_bounds_or_loosening_is_refused(tmp_path: Path) -> None:
    (tmp_path / "sheets").mkdir()
    (tmp_path / "sheets" / "a.toml").write_text(sheet(heat_output_kw='"900"'), encoding="utf-8")
    (tmp_path / "sheets" / "b.toml").write_text(
        sheet(key='"b"') + 'co_air_free_fit = "5000"\n', encoding="utf-8"
    )
    (tmp_path / "sheets" / "c.toml").write_text(
        sheet(key='"c"') + 'co_air_free_fit = "80"\n', encoding="utf-8"
    )
    shelf = open_shelf(tmp_path)
    assert set(shelf.sheets) - set(SHIPPED.sheets) == {"b", "c"}
    assert not shelf.sheets["b"].tightens
    assert "“heat_output_kw” is 900; it must lie from 1 to 60. Look at the plate again." in said(shelf)
    assert "would loosen it" in said(shelf)
    row = shelf.limits.strictest("co_air_free", "not fit", kind="boat", sheet=shelf.sheets["c"])
    assert row is not None
    assert row.value == Decimal(80)


def test_comments_and_blanks_leave_the_hash_alone(tmp_path: Path) -> None:
    one, two = tmp_path / "one", tmp_path / "two"
    one.mkdir()
    two.mkdir()
    text = '[[tighten]]\nkey = "smoke_number_fit"\nvalue = "0.5"\n'
    first = open_shelf(shop(one, limits=text))
    second = open_shelf(shop(two, limits=f"# a remark\n\n{text}\n"))
    assert first.sha256 == second.sha256 != SHIPPED.sha256


def tighten(**fields: str) -> str:
    return "[[tighten]]\n" + "".join(f"{name} = {value}\n" for name, value in fields.items())


@pytest.mark.parametrize(
    "number", ['"1e999999999"', "1e999999999", '"1_0"', '"' + "9" * 40 + '"', "-inf", '"NaN"']
)
def test_no_number_is_too_large_to_refuse(tmp_path: Path, number: str) -> None:
    shelf = open_shelf(shop(tmp_path, limits=tighten(key='"flue_o2_floor"', value=number)))
    assert "which is no finite number" in said(shelf)
    assert shelf.limits.sha256 == SHIPPED.limits.sha256


def test_a_whole_number_beyond_all_digits_is_a_fault_of_the_file(tmp_path: Path) -> None:
    shelf = open_shelf(shop(tmp_path, limits=tighten(key='"flue_o2_floor"', value="9" * 5000)))
    assert "The file limits.toml is not TOML:" in said(shelf)


def test_the_unit_that_is_written_must_be_the_rows(tmp_path: Path) -> None:
    edit = tighten(key='"co_air_free_fit"', value="0.01", unit='"%"')
    shelf = open_shelf(shop(tmp_path, limits=edit))
    assert "“unit” is %; it must be one of: ppm." in said(shelf)
    assert not open_shelf(shop(tmp_path, limits=edit.replace('"%"', '"ppm"'))).problems


STATES = sorted(key for key, row in SHIPPED.limits.rows.items() if row.states)


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(data=st.data())
def test_no_edit_of_states_ever_loosens(tmp_path: Path, data: st.DataObject) -> None:
    was = SHIPPED.limits.rows[data.draw(st.sampled_from(STATES))]
    known = SHIPPED.catalogue.entries[was.quantity].states
    states = data.draw(st.lists(st.sampled_from(known), unique=True))
    shelf = open_shelf(shop(tmp_path, limits=tighten(key=f'"{was.key}"', states=str(states))))
    now = shelf.limits.rows[was.key]
    passes = {
        row: {s for s in known if (s in row.states) is (row.comparison is Comparison.ONE_OF)}
        for row in (was, now)
    }
    assert passes[now] <= passes[was]


def test_states_can_be_tightened_and_not_loosened(tmp_path: Path) -> None:
    shelf = open_shelf(
        shop(tmp_path, limits=tighten(key='"smoke_spot_clean"', states='["grey", "yellow", "oily"]'))
    )
    assert not shelf.problems
    assert shelf.limits.rows["smoke_spot_clean"].states == ("grey", "yellow", "oily")
    assert shelf.limits.version == "1+shop"
    shelf = open_shelf(shop(tmp_path, limits=tighten(key='"smoke_spot_clean"', states='["yellow"]')))
    assert "“states” would loosen the limit, which stands at none of yellow, oily." in said(shelf)


def test_a_narrower_tolerance_stands_and_a_wider_one_does_not(tmp_path: Path) -> None:
    shelf = open_shelf(shop(tmp_path, limits=tighten(key='"fresh_air_o2"', value='"0.2"')))
    assert shelf.limits.rows["fresh_air_o2"].tolerance == Decimal("0.2")
    for wider in ('"0.31"', '"-0.1"'):
        shelf = open_shelf(shop(tmp_path, limits=tighten(key='"fresh_air_o2"', value=wider)))
        assert shelf.limits.rows["fresh_air_o2"] == SHIPPED.limits.rows["fresh_air_o2"]
        assert "would loosen it" in said(shelf)


def test_the_strictest_row_compares_across_units_and_kinds() -> None:
    strictest = SHIPPED.limits.strictest
    assert strictest("co_air_free", "not fit", kind="coach").key == "co_air_free_fit"  # type: ignore[union-attr]
    assert strictest("living_space_co_rise", "not fit", kind="boat").key == "living_space_co_fit"  # type: ignore[union-attr]
    assert strictest("co_air_free", "not proven", kind="boat") is None


def test_a_sheet_that_would_loosen_leaves_the_row_alone() -> None:
    sheet = replace(SHIPPED.sheets["generic_9_kw"], tightens={"co_air_free_fit": Decimal(5000)})
    row = SHIPPED.limits.strictest("co_air_free", "not fit", kind="boat", sheet=sheet)
    assert row == SHIPPED.limits.rows["co_air_free_fit"]


def test_a_shop_stricter_than_the_maker_does_not_lose_the_sheet(tmp_path: Path) -> None:
    (tmp_path / "sheets").mkdir()
    (tmp_path / "sheets" / "c.toml").write_text(
        sheet(key='"c"') + 'co_air_free_fit = "180"\n', encoding="utf-8"
    )
    shelf = open_shelf(shop(tmp_path, limits=tighten(key='"co_air_free_fit"', value="100")))
    assert not shelf.problems
    row = shelf.limits.strictest("co_air_free", "not fit", kind="boat", sheet=shelf.sheets["c"])
    assert row is not None
    assert row.value == Decimal(100)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"fuel_flow_kg_h": '"0.5"'}, "“heat_output_kw” is more heat than fuel_flow_kg_h of fuel holds."),
        ({"fuel_flow_kg_h": '"5"'}, "“fuel_flow_kg_h” holds more than twice the heat of heat_output_kw."),
        ({"light_off_low_s": '"90"'}, "“light_off_low_s” is 90, which is not below light_off_high_s."),
        ({"trials": "2.5"}, "“trials” is 2.5; it must lie from 1 to 10."),
        ({"estimated": '["colour"]'}, "“estimated” is colour; it must be one of:"),
        ({"feed": '"gravity"'}, "“feed” is gravity; it must be one of: metering pump, siphon, unknown."),
        ({"name": '" "'}, "“name” is  ; write it as a text in quotes."),
    ],
)
def test_a_sheet_that_cannot_be_is_refused(tmp_path: Path, changes: dict[str, str], sentence: str) -> None:
    (tmp_path / "sheets").mkdir()
    (tmp_path / "sheets" / "mine.toml").write_text(sheet(**changes), encoding="utf-8")
    (tmp_path / "sheets" / "other.toml").write_text(sheet(key='"other"'), encoding="utf-8")
    shelf = open_shelf(tmp_path)
    assert sentence in said(shelf)
    assert set(shelf.sheets) - set(SHIPPED.sheets) == {"other"}


def test_a_fuel_from_a_bare_data_sheet(tmp_path: Path) -> None:
    text = """
[fuel.depot]
name = "Depot diesel"
hydrogen = 0.135
density_15c_kg_m3 = 835
net_heat_mj_kg = 43.0
viscosity_mm2_s = [[20, 4.0], [40, 2.5]]
[blend.depot_winter]
name = "Depot, half No. 1"
of = { depot = "0.5", diesel_1 = "0.5" }
"""
    shelf = open_shelf(shop(tmp_path, fuels=text))
    assert not shelf.problems
    fuel = shelf.fuels["depot"]
    assert fuel.carbon_fraction.value == pytest.approx(0.865)
    assert fuel.density_15c_kg_m3.half_width == pytest.approx(0.015 * 835)
    assert fuel.viscosity_points is not None
    assert fuel.viscosity_points[0].temperature_k == pytest.approx(293.15)
    assert shelf.fuels["depot_winter"].density_15c_kg_m3.value == pytest.approx((835 + 810) / 2)


def test_a_heat_that_contradicts_the_composition_is_refused(tmp_path: Path) -> None:
    text = '[fuel.x]\nname = "x"\nhydrogen = 0.135\ndensity_15c_kg_m3 = 835\nnet_heat_mj_kg = 36\n'
    shelf = open_shelf(shop(tmp_path, fuels=text))
    assert "x" not in shelf.fuels
    assert "does not fit the composition" in said(shelf)


def test_names_that_nobody_reads_are_told(tmp_path: Path) -> None:
    shelf = open_shelf(shop(tmp_path, limit="", fuels='[fuels.x]\nname = "x"\n'))
    assert "The file limit.toml is not read: the shelf takes limits.toml" in said(shelf)
    assert "“fuels” means nothing here. Use one of: blend, fuel." in said(shelf)


def test_one_broken_file_never_stops_the_rest(tmp_path: Path) -> None:
    (tmp_path / "sheets").mkdir()
    (tmp_path / "sheets" / "a.toml").write_bytes(b"\xff\xfe\x00")
    (tmp_path / "sheets" / "b.toml").write_text(sheet(key='"b"'), encoding="utf-8")
    edit = tighten(key='"smoke_number_fit"', value="0")
    shelf = open_shelf(shop(tmp_path, limits=edit, fuels="][", catalogue="[" * 100_000))
    assert len(shelf.problems) == 3
    assert shelf.limits.rows["smoke_number_fit"].value == 0
    assert "b" in shelf.sheets


def test_every_value_moves_the_hash(tmp_path: Path) -> None:
    seen = {SHIPPED.sha256}
    for value in ("100", "100.1", "99"):
        seen.add(open_shelf(shop(tmp_path, limits=tighten(key='"co_air_free_fit"', value=value))).sha256)
    (tmp_path / "limits.toml").unlink()
    (tmp_path / "sheets").mkdir()
    for amps in ('"2.5"', '"2.6"'):
        (tmp_path / "sheets" / "mine.toml").write_text(sheet(fan_current_a=amps), encoding="utf-8")
        seen.add(open_shelf(tmp_path).sha256)
    assert len(seen) == 6


OWN_READING = """
[[reading]]
key = "roof_vent"
area = "safety"
states = ["open", "taped over"]
classes = ["eyes"]
place = "above the bunk"
minutes = 1
kit = 1
"""


def test_a_reading_of_the_shops_own_is_called_by_its_key(tmp_path: Path) -> None:
    shelf = open_shelf(shop(tmp_path, catalogue=OWN_READING))
    assert not shelf.problems
    assert shelf.catalogue.entries["roof_vent"].states == ("open", "taped over")
    assert shelf.catalogue.sha256 != SHIPPED.catalogue.sha256
    told = message("judging.missing", what="@reading.roof_vent")
    assert Speaker().say(told) == "Not read yet: roof vent."


def test_a_shipped_reading_cannot_be_replaced(tmp_path: Path) -> None:
    shelf = open_shelf(shop(tmp_path, catalogue=OWN_READING.replace("roof_vent", "chamber_look")))
    assert "“chamber_look” stands on the shelf already." in said(shelf)
    assert shelf.catalogue.sha256 == SHIPPED.catalogue.sha256

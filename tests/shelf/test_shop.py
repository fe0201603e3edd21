"""A shop's own folder: added to, only ever tightened, and every fault said in a sentence."""

from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

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

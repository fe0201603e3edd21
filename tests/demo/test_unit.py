"""One invented heater: wear, service and renewal, and what the notebook's meters show of it."""

from datetime import UTC, datetime

import numpy as np
import pytest

from lightoff.demo.notebook import Notebook
from lightoff.demo.shown import Shown
from lightoff.demo.troubles import COMPLAINTS, NO_HEAT, draw_trouble
from lightoff.demo.unit import Unit, draw_unit
from lightoff.plant.conditions import Conditions
from lightoff.plant.model import predict
from lightoff.plant.parameters import COLUMN, PARAMETERS, Kind
from lightoff.shelf import open_shelf
from lightoff.terms.people import Heater
from lightoff.terms.visit import Stage

SHELF = open_shelf()
SHEET = SHELF.sheets["generic_12_kw"]
DIESEL = SHELF.fuels["diesel_2"]
HERE = Conditions(fuel=DIESEL, rated_fuel=DIESEL)
AT = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


@pytest.fixture
def rng() -> np.random.Generator:
    return np.random.default_rng(4)


@pytest.fixture
def unit(rng: np.random.Generator) -> Unit:
    return draw_unit(rng, SHEET)


def stack_k(unit: Unit) -> float:
    seen = predict(SHEET, HERE, (unit.nature + unit.worn)[None, :], with_signs=False)
    return float(seen.numeric[0, 3])


def test_a_sound_unit_has_nothing_open_and_wears(rng: np.random.Generator, unit: Unit) -> None:
    shares = [COLUMN[key] for key, each in PARAMETERS.items() if each.kind is Kind.SHARE]
    assert np.all(unit.nature[shares] == 0.0)
    assert np.all(unit.of_the_day(rng)[shares] == 0.0)
    before, hours = unit.worn.copy(), unit.hours
    unit.age(rng, years=2.0)
    assert unit.worn[COLUMN["jacket_soot"]] > before[COLUMN["jacket_soot"]]
    assert unit.worn[COLUMN["nozzle_fuel_area"]] < before[COLUMN["nozzle_fuel_area"]]
    assert unit.hours > hours


def test_soot_heats_the_stack_and_a_service_cools_it(rng: np.random.Generator, unit: Unit) -> None:
    clean = stack_k(unit)
    unit.age(rng, years=3.0)
    sooted = stack_k(unit)
    assert sooted > clean + 20.0
    assert stack_k(unit.mended(rng, ())) < clean + 30.0
    assert stack_k(unit) == sooted  # the unit itself waits until the visit ends so


def test_a_renewed_part_has_no_wear_and_a_nature_of_its_own(rng: np.random.Generator, unit: Unit) -> None:
    unit.worn[COLUMN["igniter_resistance"]] = 0.6
    unit.worn[COLUMN["coolant_flow"]] = -0.2
    other = unit.mended(rng, ["circulation_pump"])
    assert other.worn[COLUMN["coolant_flow"]] == 0.0
    assert other.nature[COLUMN["coolant_flow"]] != unit.nature[COLUMN["coolant_flow"]]
    assert other.worn[COLUMN["igniter_resistance"]] == 0.0  # worn past its mark
    assert other.nature[COLUMN["fan_speed"]] == unit.nature[COLUMN["fan_speed"]]
    unit.become(other)
    assert unit.worn is other.worn


def test_troubles_are_faults_of_the_shelf_within_their_range(rng: np.random.Generator) -> None:
    for _ in range(200):
        trouble = draw_trouble(rng, SHELF.faults)
        assert trouble.done
        for fault, amount in trouble.amounts():
            assert fault.severity[0] <= amount <= fault.severity[1]
    for keys in NO_HEAT:
        assert [fault.key for fault in draw_trouble(rng, SHELF.faults, among=(keys,)).faults] == list(keys)


def test_every_complaint_is_a_state_of_what_the_owner_says() -> None:
    assert set(COMPLAINTS) < set(SHELF.catalogue.entries["owner_says"].states)


def notebook(rng: np.random.Generator) -> Notebook:
    heater = Heater(id="h", vehicle="v", name="heater", sheet=SHEET.key, serial="1")
    meters = {kind: f"the {kind}" for kind in SHELF.catalogue.classes}
    return Notebook(
        rng=rng, heater=heater, started_at=AT, until=None, meters=meters, catalogue=SHELF.catalogue
    )


def test_a_meter_shows_the_truth_within_its_class() -> None:
    """Over many visits: unbiased, and two looks on one visit agree far better than the class."""
    first, second = [], []
    for seed in range(300):
        book = notebook(np.random.default_rng(seed))
        for into in (first, second):
            book.measured("flue_o2", 1, 0.05, Stage.AS_LEFT)
            into.append(float(book.readings[-1].value or 0))
        assert book.readings[-1].instrument == "the flue_gas_probe"
    assert np.mean(first) == pytest.approx(5.0, abs=0.03)
    assert np.max(np.abs(np.array(first) - 5.0)) < 0.6
    assert np.max(np.abs(np.array(first) - np.array(second))) <= 0.2


def test_a_meter_beyond_its_range_shows_its_top(rng: np.random.Generator) -> None:
    book = notebook(rng)
    book.measured("flue_co", 1, 0.02, Stage.AS_FOUND)
    assert book.readings[-1].at_top
    assert book.readings[-1].value is None


def test_nothing_after_now_is_written(rng: np.random.Generator) -> None:
    book = notebook(rng)
    book.until = book.at(30)
    book.state("fuel_smell", 29, "none", Stage.AS_FOUND)
    book.state("fuel_smell", 30, "none", Stage.AS_FOUND)
    assert len(book.readings) == 1


def test_one_start_comes_out_one_way(rng: np.random.Generator) -> None:
    """Lit or not, and where it stopped, agree; a sure thing is never mistaken."""
    rows = np.zeros((3, len(PARAMETERS)))
    rows[1, COLUMN["igniter_open"]] = 1.0
    rows[2, COLUMN["unprimed"]] = 1.0
    seen = predict(SHEET, HERE, rows)
    for _ in range(50):
        sound, dark, dying = (Shown(rng, seen, row, SHELF.catalogue) for row in range(3))
        assert sound.look("igniter_lamp") == "lit"
        assert (dark.lit, dark.stops_at) == (False, "trial")
        assert dying.lit
        assert dying.stops_at == ("running" if dying.dies else "did not stop")
    assert sound.number("fuel_flow") == pytest.approx(SHEET.fuel_flow_kg_s, rel=1e-3)

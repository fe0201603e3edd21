"""A visit in the mountains is no drift; an igniter that ages is one, and a new one begins anew."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import numpy as np
import pytest

from lightoff.plant.model import predict
from lightoff.plant.number import Number
from lightoff.plant.parameters import COLUMN as PLACE
from lightoff.plant.parameters import SPREADS
from lightoff.plant.quantities import COLUMN
from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.terms.part import Move, MoveKind, Part
from lightoff.terms.visit import Place, Reading, Stage, Visit
from lightoff.work.drift_of_unit import WATCHED, ReadingDrift, drifts
from lightoff.work.off_logs import LOGGER_K, LogMean, OffLog
from lightoff.work.pieces import pieces
from lightoff.work.rated import sheet_of
from lightoff.work.read_numbers import conditions_of
from lightoff.work.running import running
from lightoff.work.units import Unit
from lightoff.work.visit_file import read_visit_file

FIRST = datetime(2022, 10, 1, 9, tzinfo=UTC)
HALF_YEAR = timedelta(days=182)
READ = {
    "igniter_current": "A",
    "time_to_light": "s",
    "stack_gas_temperature": "degC",
    "atomising_air_pressure": "kPa",
    "flue_o2": "%",
    "supply_voltage_rest": "V",
    "supply_voltage_igniter": "V",
}
SCALE = {"kPa": (1e3, 0.0), "degC": (1.0, 273.15), "%": (0.01, 0.0)}
NOISE = {
    "igniter_current": 0.08,
    "time_to_light": 1.0,
    "stack_gas_temperature": 3.0,
    "atomising_air_pressure": 300.0,
}


@pytest.fixture(scope="module")
def case(with_probe: str, shelf: Shelf) -> Case:
    return read_visit_file(with_probe.encode(), "with-probe.toml", shelf)


def visited(
    case: Case,
    shelf: Shelf,
    at: int,
    *,
    earlier: tuple[Visit, ...],
    altitude_m: float = 100.0,
    air_k: float = 283.0,
    volts: float = 12.6,
    shifts: dict[str, float] | None = None,
    lights: int = 1,
    seed: int = 7,
    ahead_minutes: int | None = None,
) -> Visit:
    """A visit as the model has it: this heater in these conditions, read with a little noise."""
    draw = np.random.default_rng([seed, at])
    started = FIRST + at * HALF_YEAR
    bare = replace(
        case.visit,
        id=f"visit-{at}",
        started_at=started,
        closed_at=started + timedelta(hours=3),
        utc_offset_minutes=ahead_minutes,
        place=Place(altitude_m=altitude_m, air_temperature_k=air_k),
        readings=(),
        events=(),
        moves=(),
    )
    conditions = conditions_of(replace(case, visit=bare, history=earlier), shelf, stage=Stage.AS_LEFT)
    row = np.zeros((1, SPREADS.size))
    for key, shift in (shifts or {}).items():
        row[0, PLACE[key]] = shift
    truth = predict(sheet_of(case, shelf), replace(conditions, rest_v=volts), row, with_signs=False).numeric[
        0
    ]
    readings = []
    for key, unit in READ.items():
        for light in range(lights if key in ("igniter_current", "time_to_light") else 1):
            value = truth[COLUMN[key]] + NOISE.get(key, 0.0) * draw.standard_normal()
            factor, offset = SCALE.get(unit, (1.0, 0.0))
            readings.append(
                Reading(
                    id=f"{key}-{at}-{light}",
                    heater=case.heater.id,
                    key=key,
                    stage=Stage.AS_LEFT,
                    taken_at=started + timedelta(minutes=60 + light),
                    value=Decimal(f"{(value - offset) / factor:.4f}"),
                    unit=unit,
                )
            )
    return replace(bare, readings=tuple(readings))


def followed(
    case: Case,
    shelf: Shelf,
    visits: list[dict[str, object]],
    *,
    moves: tuple[Move, ...] = (),
    parts: tuple[Part, ...] = (),
    logs: tuple[OffLog, ...] = (),
) -> dict[str, ReadingDrift]:
    made: tuple[Visit, ...] = ()
    for at, each in enumerate(visits):
        made = (*made, visited(case, shelf, at, earlier=made, **each))  # type: ignore[arg-type]
    cases = [replace(case, visit=each, history=made[:at]) for at, each in enumerate(made)]
    runs = running(())
    now = FIRST + len(visits) * HALF_YEAR
    unit = Unit(
        heater=case.heater,
        runs=runs,
        pieces=pieces(parts, moves, runs, now=now),
        visits=(),
        kinds={},
    )
    return {each.watched.key: each for each in drifts(cases, unit, shelf, logs=logs)}


def test_a_visit_in_the_mountains_is_no_drift(case: Case, shelf: Shelf) -> None:
    low = [{}, {"air_k": 290.0}, {"volts": 12.3}]
    high = {"altitude_m": 2900.0, "air_k": 258.0, "volts": 11.9}
    found = followed(case, shelf, [*low, {}, high, high])
    assert set(found) == {each.key for each in WATCHED}
    moved = 0
    for each in found.values():
        before, there = each.taken[0], each.taken[-1]
        half = each.drift.level.half_width
        moved += abs(there.read - before.read) > half
        assert each.drift.change.alarm_at is None, each.watched.key
        assert not each.drift.is_drifting, each.watched.key
        assert each.drift.changed_on is None
        # What was read down there is told as it would have been up here.
        assert abs(before.corrected.value - there.corrected.value) < 2.0 * before.corrected.half_width
        assert before.corrected.value != pytest.approx(before.read, rel=1e-3)
    assert moved >= 2, "the mountains must move the bare readings, or the test shows nothing"


@pytest.mark.parametrize("seed", range(6))
def test_quiet_heaters_stay_quiet(case: Case, shelf: Shelf, seed: int) -> None:
    draw = np.random.default_rng(seed)
    own = {"igniter_resistance": 0.04 * draw.standard_normal(), "fan_speed": 0.03 * draw.standard_normal()}
    visits: list[dict[str, object]] = [
        {
            "altitude_m": float(draw.choice([0.0, 400.0, 2200.0])),
            "air_k": float(draw.uniform(262.0, 296.0)),
            "volts": float(draw.uniform(11.9, 12.9)),
            "shifts": own,
            "seed": seed,
        }
        for _ in range(7)
    ]
    found = followed(case, shelf, visits)
    assert not [key for key, each in found.items() if each.drift.change.alarm_at is not None]


def test_an_ageing_igniter_drifts_and_tells_when_it_meets_its_limit(case: Case, shelf: Shelf) -> None:
    ageing: list[dict[str, object]] = [
        {"shifts": {"igniter_resistance": 0.03 * at}, "altitude_m": 1800.0 if at == 3 else 50.0, "lights": 3}
        for at in range(6)
    ]
    found = followed(case, shelf, ageing)["igniter_current"]
    assert found.drift.is_drifting
    assert found.drift.per_year.value < 0.0
    assert found.limit == found.low
    reach = found.drift.reach
    assert reach is not None
    assert reach.line is not None
    assert reach.earliest is not None
    assert reach.earliest <= reach.line
    # By the truth: resistance that grows by 0.06 a year takes the current to the low end of the band.
    truth = found.taken[0].corrected.value * np.exp(-0.06 * (reach.line - found.taken[0].on).days / 365.25)
    assert truth == pytest.approx(found.limit, rel=0.04)
    assert all(each.repeats == 3 for each in found.taken)


def test_a_sudden_change_is_called_and_dated(case: Case, shelf: Shelf) -> None:
    aged = {"igniter_resistance": 0.25}
    visits: list[dict[str, object]] = [{} if at < 4 else {"shifts": aged} for at in range(7)]
    found = followed(case, shelf, visits)["igniter_current"]
    assert found.drift.change.alarm_at is not None
    assert found.drift.change.side == "fall"
    assert found.drift.changed_on == found.taken[4].on


def test_a_new_igniter_begins_the_trend_anew(case: Case, shelf: Shelf) -> None:
    aged = {"igniter_resistance": 0.25}
    visits: list[dict[str, object]] = [{"shifts": aged} if at < 3 else {} for at in range(6)]
    at = FIRST + 3 * HALF_YEAR
    new = Part(id="new", kind="igniter", heater=case.heater.id)
    fitted = Move(id="m", heater=case.heater.id, part="new", kind=MoveKind.FITTED, at=at)
    found = followed(case, shelf, visits, parts=(new,), moves=(fitted,))["igniter_current"]
    assert (found.began, found.part) == (at.date(), "igniter")
    assert [each.counts for each in found.taken] == [False] * 3 + [True] * 3
    assert found.drift.reading_count == 3
    assert found.drift.change.alarm_at is None
    assert not found.drift.is_drifting


def test_days_are_those_of_the_place(case: Case, shelf: Shelf) -> None:
    """At 22:30 there it is nine of the next day in Greenwich; an igniter renewed then is of that day."""
    ahead = -630
    visits: list[dict[str, object]] = [{"ahead_minutes": ahead}] * 4
    at = FIRST + 2 * HALF_YEAR
    new = Part(id="new", kind="igniter", heater=case.heater.id)
    fitted = Move(id="m", heater=case.heater.id, part="new", kind=MoveKind.FITTED, at=at)
    found = followed(case, shelf, visits, parts=(new,), moves=(fitted,))["igniter_current"]
    there = [(FIRST + each * HALF_YEAR + timedelta(minutes=ahead)).date() for each in range(4)]
    assert [each.on for each in found.taken] == there
    assert found.began == there[2] == at.date() - timedelta(days=1)
    assert [each.counts for each in found.taken] == [False, False, True, True]


def test_low_volts_are_no_aged_igniter(case: Case, shelf: Shelf) -> None:
    """A battery that fades takes the current down with it; the volts read beside it say so."""
    fading: list[dict[str, object]] = [{"volts": 12.8 - 0.2 * at} for at in range(6)]
    found = followed(case, shelf, fading)["igniter_current"]
    bare = [each.read for each in found.taken]
    assert bare[0] - bare[-1] > 0.5
    assert found.drift.change.alarm_at is None
    assert not found.drift.is_drifting


def test_nothing_read_is_nothing_told(case: Case, shelf: Shelf) -> None:
    bare = replace(case.visit, readings=())
    unit = Unit(heater=case.heater, runs=running(()), pieces=(), visits=(), kinds={})
    assert drifts([replace(case, visit=bare)], unit, shelf) == ()


def logged(case: Case, shelf: Shelf, after: int, *, warmer_k: float = 0.0, burns: int = 40) -> OffLog:
    """A log a quarter of a year after a visit, as the model has it on a cold day."""
    here = conditions_of(replace(case, visit=visited(case, shelf, after, earlier=())), shelf)
    row = np.zeros((1, SPREADS.size))
    cold = replace(here, air_temperature_k=278.15)
    truth = predict(sheet_of(case, shelf), cold, row, with_signs=False).numeric[0]
    draw = np.random.default_rng(after)
    stack = truth[COLUMN["stack_gas_temperature"]] + warmer_k + 3.0 * draw.standard_normal(burns)
    began = FIRST + after * HALF_YEAR + timedelta(days=91)
    mean = LogMean(
        value=float(stack.mean()),
        scatter=float(stack.std(ddof=1)),
        doubt=LOGGER_K,
        count=burns,
        beside={},
    )
    return OffLog(on=began.date(), began_at=began, means={"stack_gas_temperature": mean})


def test_the_burns_of_a_log_are_one_reading_between_two_visits(case: Case, shelf: Shelf) -> None:
    logs = tuple(logged(case, shelf, at) for at in range(3))
    bare = followed(case, shelf, [{}, {}, {}])
    found = followed(case, shelf, [{}, {}, {}], logs=logs)
    assert {key for key in found if len(found[key].taken) != len(bare[key].taken)} == {
        "stack_gas_temperature"
    }
    stack = found["stack_gas_temperature"]
    assert [each.visit for each in stack.taken] == ["visit-0", "", "visit-1", "", "visit-2", ""]
    assert [each.repeats for each in stack.taken] == [1, 40, 1, 40, 1, 40]
    assert not stack.drift.is_drifting
    assert stack.drift.change.alarm_at is None
    for each in stack.taken:
        if not each.visit:  # no number of burns makes a logger a probe
            assert each.corrected.half_width > 1.96 * LOGGER_K


def test_logs_show_a_sooting_heater_sooner(case: Case, shelf: Shelf) -> None:
    soot: list[dict[str, object]] = [{"shifts": {"jacket_soot": 1e-4 * at}} for at in range(4)]
    truth = followed(case, shelf, soot)["stack_gas_temperature"].taken
    rise_k = [each.read - truth[0].read for each in truth]
    assert 40.0 < rise_k[-1] < 100.0
    logs = tuple(logged(case, shelf, at, warmer_k=0.5 * (rise_k[at] + rise_k[at + 1])) for at in range(3))
    bare, found = (
        followed(case, shelf, soot, logs=some)["stack_gas_temperature"].drift for some in ((), logs)
    )
    assert found.per_year is not None
    assert bare.per_year is not None
    assert found.per_year.low > 0.0
    assert found.per_year.half_width < bare.per_year.half_width


def test_a_log_of_a_heater_whose_exhaust_nobody_read_tells_no_drift(case: Case, shelf: Shelf) -> None:
    visit = visited(case, shelf, 0, earlier=())
    unread = replace(visit, readings=tuple(r for r in visit.readings if r.key != "stack_gas_temperature"))
    unit = Unit(heater=case.heater, runs=running(()), pieces=(), visits=(), kinds={})
    cases = [replace(case, visit=unread, history=())]
    found = drifts(cases, unit, shelf, logs=(logged(case, shelf, 0),))
    assert "stack_gas_temperature" not in {each.watched.key for each in found}


def started(
    case: Case,
    shelf: Shelf,
    after: int,
    *,
    shifts: dict[str, float] | None = None,
    volts: float = 12.6,
    count: int = 40,
) -> OffLog:
    """What a log tells of a unit's starts a quarter of a year after a visit."""
    here = conditions_of(replace(case, visit=visited(case, shelf, after, earlier=())), shelf)
    row = np.zeros((1, SPREADS.size))
    for key, shift in (shifts or {}).items():
        row[0, PLACE[key]] = shift
    warm = replace(here, air_temperature_k=278.15, coolant_start_k=335.0, since_fired_s=900.0, rest_v=volts)
    truth = predict(sheet_of(case, shelf), warm, row, with_signs=False).numeric[0]
    draw = np.random.default_rng([after, 3])
    at = truth[COLUMN["supply_voltage_igniter"]]
    beside = {"supply_voltage_igniter": Number(value=float(at), spread=0.01 * at)}
    means = {}
    for key, scatter, doubt in (("igniter_current", 0.1, 0.3), ("time_to_light", 3.0, 2.0)):
        values = truth[COLUMN[key]] + scatter * draw.standard_normal(count)
        means[key] = LogMean(
            value=float(values.mean()),
            scatter=float(values.std(ddof=1)),
            doubt=doubt,
            count=count,
            beside=beside,
        )
    began = FIRST + after * HALF_YEAR + timedelta(days=91)
    return OffLog(on=began.date(), began_at=began, means=means, coolant_k=335.0, dark_s=900.0)


def test_the_starts_of_a_log_are_one_reading_of_igniter_and_light(case: Case, shelf: Shelf) -> None:
    """On low volts, a cold day and a warm chamber: told as at the last visit they are what was read there."""
    logs = tuple(started(case, shelf, at, volts=12.6 - 0.4 * at) for at in range(3))
    found = followed(case, shelf, [{}, {}, {}], logs=logs)
    for key, doubt in (("igniter_current", 0.3), ("time_to_light", 2.0)):
        each = found[key]
        assert [one.visit for one in each.taken] == ["visit-0", "", "visit-1", "", "visit-2", ""]
        assert [one.repeats for one in each.taken] == [1, 40, 1, 40, 1, 40]
        assert each.drift.change.alarm_at is None
        assert not each.drift.is_drifting
        for one in each.taken:
            assert one.corrected.low < each.taken[0].corrected.value < one.corrected.high
            if not one.visit:  # no number of starts makes a logger a meter
                assert one.corrected.half_width > 1.9 * doubt
    amperes = [one.read for one in found["igniter_current"].taken if not one.visit]
    assert amperes[0] - amperes[-1] > 0.4, "low volts must move the bare current, or the test shows nothing"


def test_logs_show_an_ageing_igniter_sooner(case: Case, shelf: Shelf) -> None:
    def aged(at: float) -> dict[str, float]:
        return {"igniter_resistance": 0.04 * at}

    visits: list[dict[str, object]] = [{"shifts": aged(at)} for at in range(4)]
    logs = tuple(started(case, shelf, at, shifts=aged(at + 0.5)) for at in range(3))
    bare, found = (followed(case, shelf, visits, logs=some)["igniter_current"].drift for some in ((), logs))
    assert found.is_drifting
    assert found.per_year.value < 0.0
    assert found.per_year.half_width < bare.per_year.half_width


def test_logs_alone_tell_igniter_and_light_where_nobody_read_them(case: Case, shelf: Shelf) -> None:
    visit = replace(visited(case, shelf, 0, earlier=()), readings=())
    unit = Unit(heater=case.heater, runs=running(()), pieces=(), visits=(), kinds={})
    cases = [replace(case, visit=visit, history=())]
    found = drifts(cases, unit, shelf, logs=tuple(started(case, shelf, at) for at in range(3)))
    assert [each.watched.key for each in found] == ["igniter_current", "time_to_light"]
    assert all(each.low < each.taken[-1].corrected.value < each.high for each in found)
    # Without a visit nobody knows where it stands.
    assert drifts([], unit, shelf, logs=(started(case, shelf, 0),)) == ()

"""Whether a heater's readings drift, corrected by the model for where and how each of them was read.

Each reading is held against what the model of a sound heater expects there and then: altitude, air, fuel
and coolant are conditions of the model, and what was read beside it tells the supply and the air of that day.
What is left is told as the reading would be in the conditions of the last visit. What a log tells is one
reading more, where the heater stood at its last visit before, on a day whose air nobody noted.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime

import numpy as np

from lightoff.ground.estimate import Estimate
from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array
from lightoff.plant.band import bands, linearised
from lightoff.plant.baseline import unknown_unit
from lightoff.plant.conditions import Conditions
from lightoff.plant.number import Number
from lightoff.plant.parameters import PARAMETERS
from lightoff.plant.quantities import COLUMN, QUANTITIES, compared, uncompared
from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.terms.shelf import Sheet
from lightoff.terms.visit import Stage, Visit
from lightoff.wear.drift import Departure, Drift, drift
from lightoff.work.last_few import LastFew
from lightoff.work.off_logs import OffLog, off_logs
from lightoff.work.rated import sheet_of
from lightoff.work.read_numbers import LIQUID_FROM_K, conditions_of, numbers_read
from lightoff.work.units import Unit, unit_of
from lightoff.work.workshop import Workshop

MOST_VISITS = 24
"""No more visits back than this: common practice, no source."""
USUAL_AIR_K, AIR_K = 278.15, 8.0
"""The air while a logger ran, and how unsure that is: a heater runs when it is cold. Judgement, no source."""
REST_VOLTS = ("battery_voltage_rest", "supply_voltage_rest")
_VOLTS = ("supply_voltage_igniter",)
_COVERAGE, _FACTOR = 0.95, 1.96
_OF_THE_DAY = np.array([not each.persistent for each in PARAMETERS.values()])


@dataclass(frozen=True, slots=True, kw_only=True)
class Watched:
    """A reading that is followed: which way wear moves it, and the parts whose renewal begins it anew.

    `told_by` are readings of the same visit that tell how the `systems` of the heater were set and supplied
    that day: what they moved is no wear.
    Basis: common practice, no source; what moves a reading is said by the model's parameters.
    """

    key: str
    rises: bool
    parts: tuple[str, ...]
    told_by: tuple[str, ...] = _VOLTS
    systems: tuple[str, ...] = ("supply",)
    placed: bool = False  # a logger reads it elsewhere than a technician does, and alone tells no drift of it

    @property
    def dimension(self) -> str:
        """Of a departure."""
        dimension = QUANTITIES[self.key].dimension
        return "temperature_difference" if dimension == "temperature" else dimension


WATCHED = (
    Watched(key="igniter_current", rises=False, parts=("igniter", "connector")),
    Watched(key="time_to_light", rises=True, parts=("igniter", "nozzle")),
    Watched(
        key="stack_gas_temperature",
        rises=True,
        parts=("burn_tube",),
        told_by=("flue_o2", *_VOLTS),
        systems=("supply", "air", "exhaust", "fuel"),
        placed=True,
    ),
    Watched(key="atomising_air_pressure", rises=False, parts=("compressor", "nozzle")),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """One visit's reading, SI: as read, as expected there and then, and as it would be at the last visit.

    `repeats` readings of the visit stand in it as their mean; `counts` where it belongs to the trend. A log
    has no `visit`, "", and a repeat for each burn that told it.
    """

    visit: str
    on: date
    read: float
    expected: float
    corrected: Estimate
    repeats: int
    counts: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingDrift:
    """One reading over a heater's visits.

    `low` and `high` are the band of sound heaters in the conditions of the last visit, `limit` the end of it
    that wear moves the reading to, SI. `began` is when its part was renewed, `part` which one; None and ""
    where the trend reaches back to the first visit.
    """

    watched: Watched
    drift: Drift
    taken: tuple[Taken, ...]
    middle: float
    low: float
    high: float
    limit: float
    began: date | None
    part: str

    def trend_on(self, day: date) -> Estimate:
        """The reading that the trend leads to on a day, in the conditions of the last visit, SI."""
        return self.drift.expected_on(day).shifted(self.middle)


def drift_of_unit(workshop: Workshop, heater_id: str, now: datetime) -> tuple[ReadingDrift, ...]:
    """Every reading that is followed and was read, in the order of `WATCHED`. Raises NotFound."""
    cases = workshop.book.cases_of(heater_id, latest=MOST_VISITS)
    logs = off_logs(workshop, heater_id)
    return drifts(cases, unit_of(workshop, heater_id, now), workshop.shelf, logs=logs)


def drifts(
    cases: Sequence[Case], unit: Unit, shelf: Shelf, *, logs: Sequence[OffLog] = ()
) -> tuple[ReadingDrift, ...]:
    """The same of a heater's visits, oldest first."""
    told = (_drift(watched, cases, unit, shelf, logs) for watched in WATCHED)
    return tuple(each for each in told if each is not None)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """A visit's reading on the compared scale: what was read, what was expected, and how sure the two are."""

    visit: str
    on: date
    sheet: Sheet
    read: float
    expected: float
    spread: float
    repeats: int
    conditions: Conditions


def _drift(
    watched: Watched, cases: Sequence[Case], unit: Unit, shelf: Shelf, logs: Sequence[OffLog]
) -> ReadingDrift | None:
    began, part = _renewed(watched, unit, cases)
    seen = [each for case in cases if (each := _seen(watched, case, shelf, began)) is not None]
    if cases:
        telling = [each for each in logs if watched.key in each.means]
        seen += [_logged(watched, each, cases, shelf) for each in telling]
    seen.sort(key=lambda each: each.on)
    counted = [each for each in seen if began is None or each.on >= began]
    visited = [each for each in counted if each.visit]
    if not (visited or (counted and not watched.placed)):
        return None
    column = COLUMN[watched.key]
    last = (visited or counted)[-1]
    middle = float(uncompared(np.asarray(last.expected), column))
    band = bands(last.sheet, last.conditions)[watched.key]

    def as_read(scaled: float) -> float:
        return float(uncompared(np.asarray(last.expected + scaled), column))

    taken, departures = list[Taken](), list[Departure]()
    for each in seen:
        gone = each.read - each.expected
        value = as_read(gone)
        # On a logarithm a step up is longer than one down: the mean of both.
        half = 0.5 * (as_read(gone + each.spread) - as_read(gone - each.spread))
        counts = each in counted
        taken.append(
            Taken(
                visit=each.visit,
                on=each.on,
                read=float(uncompared(np.asarray(each.read), column)),
                expected=float(uncompared(np.asarray(each.expected), column)),
                corrected=Estimate(
                    value=value,
                    low=value - _FACTOR * half,
                    high=value + _FACTOR * half,
                    coverage=_COVERAGE,
                ),
                repeats=each.repeats,
                counts=counts,
            )
        )
        if counts:
            departures.append(Departure(taken_on=each.on, value=value - middle, standard_uncertainty=half))
    limit = band.high if watched.rises else band.low
    return ReadingDrift(
        watched=watched,
        drift=drift(
            departures,
            reading=f"@reading.{watched.key}",
            dimension=watched.dimension,
            serviced_on=began,
            limit=limit - middle,
        ),
        taken=tuple(taken),
        middle=middle,
        low=band.low,
        high=band.high,
        limit=limit,
        began=began,
        part=part,
    )


def _renewed(watched: Watched, unit: Unit, cases: Sequence[Case]) -> tuple[date | None, str]:
    """When the part concerned was fitted, and which one; None where that was before anybody looked."""
    renewed = [
        (_day(cases, each.since), each.part.kind)
        for each in unit.fitted
        if each.part.kind in watched.parts and not each.entered_late
    ]
    return max(renewed) if renewed else (None, "")


def _day(cases: Sequence[Case], when: datetime) -> date:
    """The day that it was then by the clock of the last visit begun by then."""
    begun = [each.visit for each in cases if each.visit.started_at <= when]
    return begun[-1].day_of(when) if begun else when.date()


def _seen(watched: Watched, case: Case, shelf: Shelf, began: date | None) -> _Seen | None:
    """What a visit read, as it left the heater, else as it found it; None where it read nothing.

    On the day on which the part was renewed what was found tells of the old one.
    """
    stages = [Stage.AS_LEFT] if _began_on(case.visit) == began else [Stage.AS_LEFT, Stage.AS_FOUND]
    for stage in stages:
        numbers = _repeats(watched.key, case, shelf, stage)
        if numbers:
            return _compared(watched, numbers, case, shelf, stage)
    return None


def _began_on(visit: Visit) -> date:
    return visit.day_of(visit.started_at)


def _repeats(key: str, case: Case, shelf: Shelf, stage: Stage) -> list[Number]:
    """Every reading of the kind at this stage, each for itself."""
    found = []
    for reading in case.visit.readings:
        if reading.key == key and reading.stage is stage and not reading.at_top:
            alone = replace(case, visit=replace(case.visit, readings=(reading,)))
            number = numbers_read(alone, shelf.catalogue, stage=stage).get(key)
            if number is not None:
                found.append(number)
    return found


def _compared(watched: Watched, numbers: Sequence[Number], case: Case, shelf: Shelf, stage: Stage) -> _Seen:
    column, slack = COLUMN[watched.key], QUANTITIES[watched.key].slack
    others = numbers_read(case, shelf.catalogue, stage=stage)
    conditions = conditions_of(case, shelf, stage=stage)
    rest = next((others[key].value for key in REST_VOLTS if key in others), None)
    if rest is not None:
        conditions = replace(conditions, rest_v=rest)
    sheet = sheet_of(case, shelf)
    middle, slopes = _linearised(sheet, conditions)
    expected, variance = _given(watched, others, middle, slopes)
    each = [_on_scale(number, column) for number in numbers]
    # Repeats lessen what a reading scatters by, never what its instrument is off by.
    spread = float(np.sqrt(variance + slack**2 / len(each) + max(doubt for _, doubt in each) ** 2))
    return _Seen(
        visit=case.visit.id,
        on=_began_on(case.visit),
        sheet=sheet,
        read=float(np.mean([value for value, _ in each])),
        expected=expected,
        spread=spread,
        repeats=len(each),
        conditions=conditions,
    )


def _logged(watched: Watched, log: OffLog, cases: Sequence[Case], shelf: Shelf) -> _Seen:
    """What a log told, on the place, the setting and the fuel of the last visit before it.

    Its burns lessen what one of them scatters by; what the logger is off by, and the day, they do not.
    """
    before = [each for each in cases if each.visit.started_at <= log.began_at] or cases[:1]
    bare = replace(before[-1], visit=replace(before[-1].visit, readings=()))
    mean, column = log.means[watched.key], COLUMN[watched.key]
    here = replace(
        conditions_of(bare, shelf, stage=Stage.AS_LEFT),
        air_temperature_k=USUAL_AIR_K,
        since_fired_s=log.dark_s,
    )
    if log.coolant_k is not None:
        here = replace(here, coolant_start_k=max(log.coolant_k, LIQUID_FROM_K))
    sheet = sheet_of(bare, shelf)
    (expected, variance), (warmer, _) = (
        _given(watched, mean.beside, *_linearised(sheet, replace(here, air_temperature_k=air_k)))
        for air_k in (USUAL_AIR_K, USUAL_AIR_K + AIR_K)
    )
    read, doubt = _on_scale(Number(value=mean.value, spread=mean.doubt), column)
    _, scatter = _on_scale(Number(value=mean.value, spread=mean.scatter), column)
    scatter = max(scatter, QUANTITIES[watched.key].slack)
    return _Seen(
        visit="",
        on=log.on,
        sheet=sheet,
        read=read,
        expected=expected,
        spread=float(np.sqrt(variance + scatter**2 / mean.count + doubt**2 + (warmer - expected) ** 2)),
        repeats=mean.count,
        conditions=here,
    )


def _given(
    watched: Watched, others: Mapping[str, Number], middle: Array, slopes: Array
) -> tuple[float, float]:
    """What is expected of a reading where those beside it were read, and the variance of the day's rest.

    What the other readings tell of (supply; air and fuel, for the exhaust) is as unknown as the priors say
    until they are read; all else that stays is left out: what it moves is a level of this heater, or the very
    drift that is looked for.
    Basis: common practice (Bayes' rule, linear model, Gaussian errors).
    """
    told = np.array([each.system in watched.systems for each in PARAMETERS.values()])
    own = slopes[COLUMN[watched.key]]
    rest = own[_OF_THE_DAY & ~told]
    expected, variance = float(middle[COLUMN[watched.key]]), float(rest @ rest)
    own = own[told]
    keys = [key for key in watched.told_by if key in others]
    if not keys:
        return expected, variance + float(own @ own)
    columns = [COLUMN[key] for key in keys]
    read = [_on_scale(others[key], COLUMN[key]) for key in keys]
    noise = [doubt**2 + QUANTITIES[key].slack ** 2 for key, (_, doubt) in zip(keys, read, strict=True)]
    seen = slopes[columns][:, told]
    gain = np.linalg.solve(seen @ seen.T + np.diag(noise), seen @ own)
    expected += float(gain @ (np.array([value for value, _ in read]) - middle[columns]))
    return expected, variance + max(float(own @ own - gain @ (seen @ own)), 0.0)


def _on_scale(number: Number, column: int) -> tuple[float, float]:
    """A number and its instrument's doubt on the compared scale."""
    three = np.zeros((3, len(QUANTITIES)))
    three[:, column] = number.value, number.value + number.spread, number.value - number.spread
    value, above, below = compared(three)[:, column]
    return float(value), float(0.5 * abs(above - below))


def _linearised(sheet: Sheet, conditions: Conditions) -> tuple[Array, Array]:
    return _known.of((sheet.sha256, conditions), lambda: linearised(sheet, conditions, unknown_unit()))


_known: LastFew[tuple[Array, Array]] = LastFew(512)

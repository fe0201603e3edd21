"""What a judgement is: everything a face shows about a visit, as data."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import field
from datetime import datetime
from enum import StrEnum

from lightoff.ground.estimate import Estimate
from lightoff.ground.message import Message
from lightoff.ground.values import dataclass
from lightoff.plant.band import Band
from lightoff.terms.shelf import Limit
from lightoff.terms.visit import Stage

Bands = Mapping[Stage, Mapping[str, Band]]
"""What each reading of a stage is expected to be here, by catalogue key."""


class Judgement(StrEnum):
    """Of one area or gate. "within limits" is never a default."""

    STOP = "stop"
    OUTSIDE = "outside limits"
    NOT_PROVEN = "not proven"
    WITHIN = "within limits"


class Verdict(StrEnum):
    """Of the visit: the worst gate wins."""

    STOP = "stop"
    NOT_FIT = "not fit"
    NOT_PROVEN = "not proven"
    FIT = "fit as tested"


WORST_FIRST = (Judgement.STOP, Judgement.OUTSIDE, Judgement.NOT_PROVEN, Judgement.WITHIN)
VERDICT_OF = {
    Judgement.STOP: Verdict.STOP,
    Judgement.OUTSIDE: Verdict.NOT_FIT,
    Judgement.NOT_PROVEN: Verdict.NOT_PROVEN,
    Judgement.WITHIN: Verdict.FIT,
}
# Several stops are all named, in this order.
STOP_ORDER = ("leave the vehicle", "do not fire", "do not energise", "do not drink")


class Area(StrEnum):
    """What is judged apart."""

    SAFETY = "safety"
    BURN = "burn"
    FIRING_RATE = "firing rate"
    LIGHT_OFF = "light-off"
    SUPPLY = "supply"
    WARM_UP = "warm-up"


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """The number that a gate held against its limit: the worst there was. The figure shows this one.

    `figure` is its key; `readings` are the ids it came from. `at_top` says that the meter showed "at least
    this": then no figure is shown, for every number there is would be milder than the truth.
    """

    figure: str
    estimate: Estimate
    readings: tuple[str, ...]
    at_top: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class GateResult:
    """One gate of the verdict and why it stands where it stands.

    `limits` are the rows that bit; `missing` the catalogue keys that would close it, best first;
    `counted` the number it judged, None for a gate of states or where there was none; `stops` what a stop
    says not to do.
    """

    gate: str
    judgement: Judgement
    said: Message
    limits: tuple[Limit, ...] = ()
    stops: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    readings: tuple[str, ...] = ()  # ids of the readings it used
    counted: Counted | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class VerdictResult:
    """The verdict with every gate that led to it, worst first."""

    verdict: Verdict
    gates: tuple[GateResult, ...]
    stops: tuple[str, ...]
    set_aside: tuple[Message, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One computed or read figure of a stage, SI, with its doubt, limit and expected band.

    `key` is a key of texts ("figure.<key>") and of the figure list in docs; `readings` are the ids it
    came from. Where a gate judged it, `estimate` is the gate's own number. Where the stage has several
    sets of flue readings, `sets` are the numbers of all of them in their order. The band of `expected` is
    `by_sheet` where any heater of its type may be meant, else that of this heater, here and today.
    """

    key: str
    estimate: Estimate
    dimension: str
    stage: Stage
    limit: Limit | None = None
    expected: Estimate | None = None
    readings: tuple[str, ...] = ()
    sets: tuple[Estimate, ...] = ()
    by_sheet: bool = False


CALCULATED_CO2 = "flue_co2_calculated"
"""The figure of carbon dioxide that the instrument worked out from oxygen: no witness of the burn."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AreaJudgement:
    """One area: judgement, why, figures, what is missing and what helps most, cautions, what next."""

    area: Area
    judgement: Judgement
    sentences: tuple[Message, ...]
    figures: tuple[Figure, ...] = ()
    limits: tuple[Limit, ...] = ()
    missing: tuple[str, ...] = ()
    most_useful: str | None = None
    cautions: tuple[Message, ...] = ()
    next_steps: tuple[Message, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnPoint:
    """One reading on the combustion triangle: shares of dry gas with expanded uncertainties."""

    visit: str
    at: datetime
    stage: Stage
    o2_fraction: float
    o2_half_width: float
    co2_fraction: float
    co2_half_width: float
    co2_is_measured: bool
    air_ratio: float
    now: bool  # of this visit


@dataclass(frozen=True, slots=True, kw_only=True)
class Triangle:
    """The combustion triangle of the fuel and the points on it; every line computed.

    `air_ratios` are (lambda, O2, CO2) on the line of complete combustion; `co_lines` hold, for a CO
    share, (O2, CO2) points along it. All dry shares.
    """

    fuel: str
    co2_largest_fraction: float
    o2_floor_fraction: float
    air_ratios: tuple[tuple[float, float, float], ...]
    co_lines: tuple[tuple[float, tuple[tuple[float, float], ...]], ...]
    points: tuple[BurnPoint, ...]
    expected_o2: tuple[float, float] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """The judged visit. Three separate statements: work done, what was measured, verdict.

    `inputs_sha256` is of everything judged, `shelf_sha256` of the limits, catalogue, fuel and sheet.
    """

    visit: str
    heater: str
    judged_at: datetime
    verdict: VerdictResult
    said: Message  # the verdict in one sentence
    work_done: Message
    measured: Message
    kit: int
    areas: tuple[AreaJudgement, ...]
    paragraph: tuple[Message, ...]  # the running paragraph beside the card
    most_useful: str | None
    notices: tuple[Message, ...]  # at most three
    triangle: Triangle | None
    burn_time_left: Figure | None
    travel: tuple[Message, ...]  # altitude and season: where the vehicle goes next
    inputs_sha256: str
    shelf_sha256: str
    limits_version: str
    instruments_wanted: tuple[str, ...] = ()  # classes that the open gates need and the shop does not own
    # Figures that are not shown although they were read: key, stage, "not believed" or "over the top".
    absent: tuple[tuple[str, Stage, str], ...] = ()
    expected: Bands = field(default_factory=dict)

    def figures(self, stage: Stage) -> tuple[Figure, ...]:
        """All figures of one stage, in the order of the areas."""
        return tuple(figure for area in self.areas for figure in area.figures if figure.stage is stage)

    def figure(self, key: str, stage: Stage) -> Figure | None:
        """One figure by key, or None if it was not had."""
        return figure_of((figure for area in self.areas for figure in area.figures), key, stage)


def figure_of(figures: Iterable[Figure], key: str, stage: Stage) -> Figure | None:
    """The figure with this key of a stage, or None."""
    return next((each for each in figures if each.key == key and each.stage is stage), None)

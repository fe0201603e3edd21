"""What an area judgement looks at: the believed readings as floats, by key and stage."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from lightoff.ground.estimate import Estimate
from lightoff.ground.values import dataclass
from lightoff.judging.assessment import Counted, Figure, GateResult
from lightoff.judging.believed import Believed, Judged, class_width
from lightoff.judging.limit_gates import Rows
from lightoff.physics.fuel import Fuel
from lightoff.terms.case import Case
from lightoff.terms.shelf import Catalogue, Limit, Limits, Sheet
from lightoff.terms.visit import Reading, Stage

# Figures that are worked out from carbon monoxide in the exhaust.
_OF_CARBON_MONOXIDE = frozenset(("flue_co", "co_air_free", "co_at_reference_o2", "unburned_loss"))
STAGES = (Stage.AS_FOUND, Stage.AS_LEFT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """One number read: SI value, expanded uncertainty of its class, and which reading it was."""

    value: float
    half_width: float
    reading: Reading

    @property
    def estimate(self) -> Estimate:
        """The number with its doubt."""
        return Estimate.from_half_width(self.value, self.half_width)


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One visit with everything an area needs to judge it."""

    case: Case
    believed: Believed
    places: Mapping[tuple[str, Stage], Sequence[Judged]]  # the believed readings by key and stage
    rows: Rows
    catalogue: Catalogue
    sheet: Sheet
    fuel: Fuel | None
    counted: Mapping[str, Counted]  # by figure: the numbers that the gates held against their limits

    def counted_at(self, figure: str, stage: Stage) -> Counted | None:
        """What a gate told of this figure, if it told it of this stage."""
        counted = self.counted.get(figure)
        if counted is None:
            return None
        stages = {one.reading.stage for one in self.believed.judged if one.reading.id == counted.readings[0]}
        return counted if stage in stages else None

    def as_counted(self, figure: Figure) -> Figure | None:
        """The figure with the gate's own number where a gate judged it: one number for one thing.

        None where the gate counted a meter at its top: a milder number beside that would mislead.
        """
        source = "flue_co" if figure.key in _OF_CARBON_MONOXIDE else figure.key
        over = self.counted_at(source, figure.stage)
        if over is not None and over.at_top:
            return None
        counted = self.counted_at(figure.key, figure.stage)
        if counted is None:
            return figure
        return replace(figure, estimate=counted.estimate, readings=counted.readings)

    def numbers(self, key: str, stage: Stage) -> tuple[Read, ...]:
        """Every number of `key` at a stage, oldest first."""
        here = self.places.get((key, stage), ())
        found = [one for one in here if one.x is not None and not one.at_top]
        return tuple(self._read(one) for one in sorted(found, key=_order))

    def number(self, key: str, stage: Stage, *, set_number: int | None = None) -> Read | None:
        """The number of `key` read last at a stage, in one set if asked."""
        found = [
            each
            for each in self.numbers(key, stage)
            if set_number is None or each.reading.set_number == set_number
        ]
        return found[-1] if found else None

    def state(self, key: str, stage: Stage) -> Reading | None:
        """The state of `key` seen last at a stage."""
        found = [one for one in self.places.get((key, stage), ()) if one.reading.state is not None]
        return max(found, key=_order).reading if found else None

    def latest(self, key: str) -> tuple[Read, Stage] | None:
        """The number as left where there is one, else as found."""
        for stage in reversed(STAGES):
            read = self.number(key, stage)
            if read is not None:
                return read, stage
        return None

    def figure(
        self, key: str, read: Read, *, expected: Estimate | None = None, limit: Limit | None = None
    ) -> Figure:
        """A number read as a figure of its stage; `expected` by the sheet."""
        return Figure(
            key=key,
            estimate=read.estimate,
            dimension=self.catalogue.entries[read.reading.key].dimension,
            stage=read.reading.stage,
            expected=expected,
            limit=limit,
            readings=(read.reading.id,),
            by_sheet=expected is not None,
        )

    def _read(self, one: Judged) -> Read:
        width = one.width if one.width is not None else self._widest_class(one)
        return Read(value=float(one.number), half_width=float(width), reading=one.reading)

    def _widest_class(self, one: Judged) -> float:
        """Without a named instrument the coarsest class that reads this key speaks for it."""
        value = one.reading.value
        if value is None:
            return 0.0
        widths = [
            float(class_width(kind.accuracies[one.reading.key], value, one.reading.unit))
            for name in one.entry.classes
            if (kind := self.catalogue.classes.get(name)) and one.reading.key in kind.accuracies
        ]
        return max(widths, default=0.0)


def view(
    believed: Believed,
    *,
    sheet: Sheet,
    fuel: Fuel | None,
    limits: Limits,
    catalogue: Catalogue,
    gates: Iterable[GateResult] = (),
) -> View:
    """The sorted readings of a case for its areas; `gates` are those of its verdict."""
    case = believed.case
    places: dict[tuple[str, Stage], list[Judged]] = defaultdict(list)
    for one in believed.judged:
        places[one.reading.key, one.reading.stage].append(one)
    return View(
        case=case,
        believed=believed,
        places=places,
        rows=Rows(limits=limits, sheet=sheet, kind=str(case.vehicle.kind)),
        catalogue=catalogue,
        sheet=sheet,
        fuel=fuel,
        counted={gate.counted.figure: gate.counted for gate in gates if gate.counted is not None},
    )


def band(low: float, high: float) -> Estimate:
    """What is expected, from low to high."""
    return Estimate(value=(low + high) / 2, low=low, high=high, coverage=0.95)


def read_order(read: Read) -> tuple[float, int, str]:
    """By the time a number was read; sets and ids break a tie."""
    return _order_of(read.reading)


def _order(one: Judged) -> tuple[float, int, str]:
    return _order_of(one.reading)


def _order_of(reading: Reading) -> tuple[float, int, str]:
    at = reading.taken_at
    return (at.timestamp() if at else 0.0, reading.set_number or 0, reading.id)

"""How the heater burns: figures of each stage, the triangle, and the burn's own judgement."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from lightoff.ground import units
from lightoff.ground.estimate import Estimate
from lightoff.ground.message import Amount, Message, message
from lightoff.ground.values import dataclass
from lightoff.judging.assessment import CALCULATED_CO2, Figure, GateResult, Judgement
from lightoff.judging.believed import FLUE
from lightoff.judging.view import STAGES, Read, View, band, read_order
from lightoff.physics import air, flue
from lightoff.physics.flue import FlueSet
from lightoff.physics.flue_gas import FlueGas, ReadingUncertainty
from lightoff.physics.fuel import Fuel
from lightoff.physics.uncertain import Uncertain
from lightoff.terms.shelf import Comparison, Gate, Limit, Sheet
from lightoff.terms.visit import Stage

# CO is also given at this dry O2, the usual reference of small oil burners.
# Basis: common practice, no source.
REFERENCE_O2_FRACTION = 0.03


@dataclass(frozen=True, slots=True, kw_only=True)
class Burn:
    """One set of flue readings of a stage, analysed; `refused` says why it could not be.

    `sets` are all sets of the stage's test in their order, where this is the one that `counts`; else empty.
    """

    stage: Stage
    o2: Read | None
    co2: Read | None
    co: Read | None
    stack: Read | None
    intake: Read | None
    gas: FlueGas | None
    refused: Message | None
    sets: tuple[Burn, ...] = ()
    counts: int = 0

    @property
    def readings(self) -> tuple[str, ...]:
        """The ids of the readings it came from."""
        reads = (self.o2, self.co2, self.co, self.stack, self.intake)
        return tuple(each.reading.id for each in reads if each is not None)


def burns(views: Sequence[View]) -> list[tuple[Burn, ...]]:
    """The burns of each visit, one a stage: the worse set of its test counts, as in the gate of CO.

    The sets of all visits are analysed together.
    """
    read = [[(stage, _sets(view, stage)) for stage in STAGES] for view in views]
    asked = [
        (view, each) for view, stages in zip(views, read, strict=True) for _, sets in stages for each in sets
    ]
    analysed = iter(_analysed(asked))
    return [
        tuple(_counting(view, stage, tuple(next(analysed) for _ in sets)) for stage, sets in stages if sets)
        for view, stages in zip(views, read, strict=True)
    ]


def _sets(view: View, stage: Stage) -> list[Burn]:
    """The sets of a stage's test in their order, not analysed yet."""
    gases = [each for key in FLUE for each in view.numbers(key, stage)]
    if not gases:
        return []
    test = _test(view, gases)
    numbers = sorted({each.reading.set_number or 0 for each in gases if each.reading.test == test})
    return [_set(view, stage, test, number) for number in numbers]


def _counting(view: View, stage: Stage, sets: tuple[Burn, ...]) -> Burn:
    counted = view.counted_at("co_air_free", stage) or view.counted_at("flue_co", stage)
    ids = counted.readings if counted else ()
    counts, worst = max(enumerate(sets), key=lambda each: (*_badness(each[1], ids), each[0]))
    return replace(worst, sets=sets, counts=counts)


def _test(view: View, gases: Sequence[Read]) -> str | None:
    """The test that the verdict looks at, where it is of this stage; else the one read last."""
    if any(each.reading.test == view.believed.test for each in gases):
        return view.believed.test
    return max(gases, key=read_order).reading.test


def _badness(burn: Burn, counted: tuple[str, ...]) -> tuple[bool, float]:
    """The set whose carbon monoxide the gate told, else the one with the most of it, air-free."""
    if burn.co is None:
        return False, -1.0
    free = burn.gas.co_air_free_fraction if burn.gas is not None else None
    return burn.co.reading.id in counted, float(free.value) if free is not None else burn.co.value


def _set(view: View, stage: Stage, test: str | None, number: int) -> Burn:
    def near(key: str) -> Read | None:
        # Temperatures may be read once for both sets.
        return read(key) or view.number(key, stage)

    def read(key: str) -> Read | None:
        found = [
            each
            for each in view.numbers(key, stage)
            if each.reading.test == test and (each.reading.set_number or 0) == number
        ]
        return found[-1] if found else None

    o2, co2, co = read("flue_o2"), read("flue_co2"), read("flue_co")
    stack, intake = near("stack_gas_temperature"), near("combustion_air_temperature")
    return Burn(stage=stage, o2=o2, co2=co2, co=co, stack=stack, intake=intake, gas=None, refused=None)


def _analysed(asked: Sequence[tuple[View, Burn]]) -> list[Burn]:
    """Every set with its analysis, or with why it could not be."""
    found = {}
    of_fuel: dict[int, list[tuple[int, Fuel, FlueSet]]] = defaultdict(list)
    for index, (view, burn) in enumerate(asked):
        o2 = burn.o2
        if view.fuel is None:
            found[index] = replace(burn, refused=message("judging.fuel_unknown"))
        elif o2 is not None and o2.reading.basis not in ("dry", "wet"):
            found[index] = replace(burn, refused=message("judging.o2_no_basis", what="@reading.flue_o2"))
        else:
            of_fuel[id(view.fuel)].append((index, view.fuel, _flue_set(view, burn)))
    for sets in of_fuel.values():
        told = flue.analyse_each(
            sets[0][1], [each for _, _, each in sets], reference_o2_fraction=REFERENCE_O2_FRACTION
        )
        for (index, _, _), gas in zip(sets, told, strict=True):
            burn = asked[index][1]
            if isinstance(gas, FlueGas):
                found[index] = replace(burn, gas=gas)
            else:
                found[index] = replace(burn, refused=gas.message)
    return [found[index] for index in range(len(asked))]


def _flue_set(view: View, burn: Burn) -> FlueSet:
    o2, co2, co, stack, intake = burn.o2, burn.co2, burn.co, burn.stack, burn.intake
    wet = o2 is not None and o2.reading.basis == "wet"
    place = view.case.visit.place
    pressure = None
    if place.altitude_m is not None:
        pressure = float(air.standard_pressure_pa(place.altitude_m))
    reads: tuple[tuple[str, Read | None], ...] = (
        ("o2_fraction", o2),
        ("co2_fraction", co2),
        ("co_fraction", co),
        ("stack_temperature_k", stack),
        ("combustion_air_temperature_k", intake),
    )
    doubt = ReadingUncertainty(**{name: each.half_width for name, each in reads if each is not None})
    return FlueSet(
        o2_dry_fraction=o2.value if o2 and not wet else None,
        o2_wet_fraction=o2.value if o2 and wet else None,
        co2_dry_fraction=co2.value if co2 else None,
        co2_basis="calculated" if co2 and co2.reading.basis != "measured" else "measured",
        co_dry_fraction=co.value if co else None,
        stack_temperature_k=stack.value if stack else None,
        combustion_air_temperature_k=intake.value if intake else None,
        relative_humidity_fraction=place.relative_humidity_fraction if pressure and intake else None,
        pressure_pa=pressure,
        uncertainty=doubt,
    )


def burn_figures(view: View, burn: Burn) -> tuple[Figure, ...]:
    """Everything the flue readings of one stage tell, in the order a technician asks.

    What a gate held against a limit is shown as the gate told it; all else is of the set that counts.
    """
    of_sets = [_figures_of(view, each) for each in burn.sets]
    sets = [{figure.key: figure.estimate for figure in each} for each in of_sets]
    figures = []
    for figure in of_sets[burn.counts]:
        each = tuple(found[figure.key] for found in sets if figure.key in found)
        if figure.key == "stack_gas_temperature" and figure.limit is not None:
            figure = replace(figure, estimate=max(each, key=lambda one: one.value))
        told = view.as_counted(figure)
        if told is None:
            continue
        figures.append(replace(told, sets=each if len(each) > 1 else ()))
    return tuple(figures)


def _figures_of(view: View, burn: Burn) -> list[Figure]:
    rows, sheet = view.rows, view.sheet
    measures: dict[str, tuple[Limit | None, Estimate | None]] = {
        "stack_gas_temperature": (stack_limit(view.sheet), None),
    }
    # Limit and band are of dry gas: oxygen that was read wet, or nobody said how, has none.
    if burn.o2 is not None and burn.o2.reading.basis == "dry":
        dry = band(*sorted((sheet.o2_dry_low_fraction, sheet.o2_dry_high_fraction)))
        measures["flue_o2"] = (rows.strictest("flue_o2", "not fit"), dry)
    figures = []
    for key, read in (
        ("flue_o2", burn.o2),
        ("flue_co2", burn.co2),
        ("flue_co", burn.co),
        ("stack_gas_temperature", burn.stack),
        ("combustion_air_temperature", burn.intake),
    ):
        if read is not None:
            limit, expected = measures.get(key, (None, None))
            told = CALCULATED_CO2 if key == "flue_co2" and read.reading.basis == "calculated" else key
            figures.append(view.figure(told, read, limit=limit, expected=expected))
    return figures + _derived(view, burn)


def _derived(view: View, burn: Burn) -> list[Figure]:
    gas = burn.gas
    if gas is None:
        return []
    found: tuple[tuple[str, Uncertain | None, str], ...] = (
        ("air_ratio", gas.air_ratio, "ratio"),
        ("air_ratio_from_co2", gas.air_ratio_from_co2 if _independent(burn) else None, "ratio"),
        ("excess_air", gas.excess_air_fraction, "fraction"),
        ("co_air_free", gas.co_air_free_fraction, "trace_gas_fraction"),
        ("co_at_reference_o2", gas.co_referred_fraction, "trace_gas_fraction"),
        ("stack_rise", gas.stack_rise_k, "temperature_difference"),
        ("stack_loss", gas.stack_loss_net_fraction, "fraction"),
        ("unburned_loss", gas.unburned_loss_fraction if burn.co else None, "fraction"),
        ("efficiency_net", gas.efficiency_net_fraction, "fraction"),
        ("efficiency_gross", gas.efficiency_gross_fraction, "fraction"),
        ("dew_point", gas.water_dew_point_k, "temperature"),
        ("acid_dew_point", gas.acid_dew_point_k, "temperature"),
        ("flame_temperature", gas.flame_temperature_k, "temperature"),
        ("air_ratio_reference", gas.air_ratio_referred, "ratio"),
        ("stack_loss_reference", gas.stack_loss_referred_fraction, "fraction"),
    )
    figures = [
        Figure(
            key=key,
            estimate=value.estimate(),
            dimension=dimension,
            stage=burn.stage,
            limit=view.rows.strictest("co_air_free", "not fit") if key == "co_air_free" else None,
            readings=burn.readings,
        )
        for key, value, dimension in found
        if value is not None
    ]
    if gas.siegert is not None:
        siegert = Estimate.exact(float(gas.siegert.loss_fraction))
        figures.append(
            Figure(key="stack_loss_siegert", estimate=siegert, dimension="fraction", stage=burn.stage)
        )
    return figures


def _independent(burn: Burn) -> bool:
    return burn.co2 is not None and burn.co2.reading.basis == "measured"


def burn_sentences(burn: Burn) -> tuple[Message, ...]:
    """Lambda, loss and the alarm beside it, in the running paragraph."""
    if burn.gas is None:
        return (burn.refused,) if burn.refused else ()
    gas, said = burn.gas, []
    ratio = _amount(gas.air_ratio, "ratio")
    if gas.stack_loss_net_fraction is not None:
        loss = _amount(gas.stack_loss_net_fraction, "fraction")
        said.append(message("judging.lambda_and_loss", ratio=ratio, loss=loss))
    else:
        said.append(message("judging.lambda_alone", ratio=ratio))
    said.extend(gas.cautions)
    return tuple(said)


def _amount(value: Uncertain, dimension: str) -> Amount:
    return Amount(value=float(value.value), dimension=dimension, half_width=float(value.half_width()))


def stack_gate(view: View, burned: tuple[Burn, ...]) -> GateResult | None:
    """The maker's own limit of exhaust temperature, where the sheet has one; there is no other."""
    row = stack_limit(view.sheet)
    stacks = [each.stack for each in burned[-1].sets if each.stack is not None] if burned else []
    if row is None or row.value is None or not stacks:
        return None
    stack = max(stacks, key=lambda each: each.value)
    maker = units.to_si(row.value, row.unit)
    said = message(
        "judging.stack_temperature",
        stack=Amount(value=stack.value, dimension="temperature", half_width=stack.half_width),
        limit=Amount(value=maker, dimension="temperature"),
    )
    judgement = Judgement.NOT_PROVEN
    if stack.value + stack.half_width <= maker:
        judgement = Judgement.WITHIN
    elif stack.value - stack.half_width > maker:
        judgement = Judgement.OUTSIDE
    return GateResult(
        gate="stack temperature",
        judgement=judgement,
        said=said,
        limits=(row,),
        readings=(stack.reading.id,),
    )


def stack_limit(sheet: Sheet) -> Limit | None:
    """The sheet's highest exhaust temperature as a row like those of the limits table."""
    maker = sheet.stack_temperature_highest_k
    if maker is None:
        return None
    return Limit(
        key="stack_temperature_highest",
        quantity="stack_gas_temperature",
        comparison=Comparison.AT_MOST,
        gate=Gate.LIMIT,
        effect="not fit",
        basis="maker",
        source=f"sheet {sheet.name}",
        value=Decimal(f"{units.from_si(maker, 'degC'):g}"),
        unit="degC",
    )

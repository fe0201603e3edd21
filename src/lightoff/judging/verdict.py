"""The verdict of a visit: the worst gate wins, and every gate runs by itself.

No answer, an error or an unknown means not proven. Nothing here reads a disk, a clock or a setting; the
rules stand in docs/verdict.md, every number in the limits table.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from fractions import Fraction

from lightoff.ground.message import Message, message
from lightoff.judging.assessment import (
    STOP_ORDER,
    VERDICT_OF,
    WORST_FIRST,
    GateResult,
    Judgement,
    VerdictResult,
)
from lightoff.judging.believed import GATING, Believed, believe
from lightoff.judging.compare import worst
from lightoff.judging.evidence_gates import (
    gate_belongs,
    gate_calibration,
    gate_co2,
    gate_conflict,
    gate_fresh_air,
    gate_one_test,
    gate_response,
    gate_sampling_line,
    gate_steady,
    gate_two_sets,
    gate_zero,
)
from lightoff.judging.joints import gate_joints
from lightoff.judging.limit_gates import (
    Rows,
    gate_flue_co,
    gate_flue_o2,
    gate_living_space,
    gate_smoke,
    gate_state,
    gate_trials,
)
from lightoff.judging.resting import resting
from lightoff.judging.unbelieved import why_not
from lightoff.terms.case import Case
from lightoff.terms.shelf import Catalogue, Limits, Sheet

GATES = (
    "living-space CO",
    "flue CO",
    "flue O2",
    "CO2 agrees",
    "smoke",
    "smoke spot",
    "exhaust path",
    "inlet",
    "fuel joints",
    "trials",
    "light-off",
    "after-run",
    "two sets",
    "steady",
    "one test",
    "fresh air",
    "zero",
    "sampling line",
    "response check",
    "calibration",
    "belongs here",
    "conflict",
)


def judge(
    case: Case,
    *,
    limits: Limits,
    catalogue: Catalogue,
    sheet: Sheet,
    co2_largest_fraction: float,
    now: datetime,
    believed: Believed | None = None,
) -> VerdictResult:
    """The verdict of a visit, with every gate that led to it, worst first.

    `co2_largest_fraction` is the fuel's largest dry CO2 share; 0 says that the fuel is not known. `believed`
    are the readings of the case as sorted already.
    """
    aside: tuple[Message, ...] = ()
    try:
        believed = believed or believe(case, catalogue, now)
    except Exception as error:  # noqa: BLE001 - an error in the judgement is not proven, never a pass
        results = [_broke(gate, error) for gate in GATES]
    else:
        aside = _set_aside(believed, catalogue)
        rows = Rows(limits=limits, sheet=sheet, kind=str(case.vehicle.kind))
        results = _run(_gates(believed, rows, catalogue, co2_largest_fraction))
        if next(each for each in results if each.gate == "conflict").judgement is not Judgement.WITHIN:
            results = resting(results, case)
    results.sort(key=lambda gate: WORST_FIRST.index(gate.judgement))
    return VerdictResult(
        verdict=VERDICT_OF[worst(gate.judgement for gate in results)],
        gates=tuple(results),
        stops=stops_of(results),
        set_aside=aside,
    )


def stops_of(gates: Iterable[GateResult]) -> tuple[str, ...]:
    """What the gates stop, the gravest first: every stop names its object."""
    named = (gate.stops or ("do not fire",) for gate in gates if gate.judgement is Judgement.STOP)
    return tuple(sorted({stop for each in named for stop in each}, key=_stop_order))


def _stop_order(stop: str) -> tuple[int, str]:
    return STOP_ORDER.index(stop) if stop in STOP_ORDER else -1, stop


def _run(runs: dict[str, Callable[[], GateResult]]) -> list[GateResult]:
    results = []
    for gate in GATES:
        try:
            results.append(runs[gate]())
        except Exception as error:  # noqa: BLE001 - one gate's error hides no other gate's stop
            results.append(_broke(gate, error))
    return results


def _gates(
    believed: Believed, rows: Rows, catalogue: Catalogue, co2_largest: float
) -> dict[str, Callable[[], GateResult]]:
    def seen(gate: str, *quantities: str) -> Callable[[], GateResult]:
        return lambda: gate_state(gate, quantities, believed, rows)

    return {
        "living-space CO": lambda: gate_living_space(believed, rows),
        "flue CO": lambda: gate_flue_co(believed, rows),
        "flue O2": lambda: gate_flue_o2(believed, rows),
        "CO2 agrees": lambda: gate_co2(believed, rows, Fraction(co2_largest)),
        "smoke": lambda: gate_smoke(believed, rows),
        "smoke spot": seen("smoke spot", "smoke_spot_look"),
        "exhaust path": seen("exhaust path", "exhaust_path"),
        "inlet": seen("inlet", "inlet_path"),
        "fuel joints": lambda: gate_joints(believed, rows),
        "trials": lambda: gate_trials(believed, rows),
        "light-off": seen("light-off", "light_off"),
        "after-run": seen("after-run", "after_run"),
        "two sets": lambda: gate_two_sets(believed, rows),
        "steady": lambda: gate_steady(believed, rows),
        "one test": lambda: gate_one_test(believed, rows),
        "fresh air": lambda: gate_fresh_air(believed, rows),
        "zero": lambda: gate_zero(believed, rows),
        "sampling line": lambda: gate_sampling_line(believed, rows),
        "response check": lambda: gate_response(believed),
        "calibration": lambda: gate_calibration(believed, rows, catalogue),
        "belongs here": lambda: gate_belongs(believed),
        "conflict": lambda: gate_conflict(believed),
    }


def _broke(gate: str, error: Exception) -> GateResult:
    said = message("judging.gate_broke", gate=f"@gate.{gate.replace(' ', '_')}", error=repr(error))
    return GateResult(gate=gate, judgement=Judgement.NOT_PROVEN, said=said)


def _set_aside(believed: Believed, catalogue: Catalogue) -> tuple[Message, ...]:
    """Readings of this heater that no gate needs and that cannot be believed: named, else left alone."""
    usable = {one.reading.id for one in believed.judged if not one.at_top}
    visit = believed.case.visit
    mine = (each for each in visit.readings if each not in believed.foreign and not each.not_had)
    apart = (
        each
        for each in mine
        if each.key in catalogue.entries and each.key not in GATING and each.id not in usable
    )
    try:
        found = (why_not(believed, each) for each in apart)
        return tuple(message("judging.set_aside", why=why) for why in found if why is not None)
    except Exception as error:  # noqa: BLE001 - what the verdict does not need hides no stop
        return (message("judging.aside_broke", error=repr(error)),)

"""The middle of the house: one visit in, one judgement out that explains itself."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime

from lightoff.ground.message import Message, message
from lightoff.ground.values import dataclass
from lightoff.judging import firing_rate, practice, travel
from lightoff.judging.assessment import (
    VERDICT_OF,
    WORST_FIRST,
    Area,
    AreaJudgement,
    Assessment,
    Bands,
    Figure,
    GateResult,
    Judgement,
    Verdict,
    VerdictResult,
)
from lightoff.judging.believed import FLUE, believe
from lightoff.judging.burn import Burn, burn_figures, burn_sentences, burns, stack_gate
from lightoff.judging.compare import worst
from lightoff.judging.content import fuel_hash, hash_of, visit_hash
from lightoff.judging.expected import with_expected, with_expected_o2
from lightoff.judging.helping import danger_stands, instruments_wanted, most_useful, rank
from lightoff.judging.living_space import living_space_figures
from lightoff.judging.practice import Practice
from lightoff.judging.resting import resting
from lightoff.judging.triangle import triangle
from lightoff.judging.unbelieved import absent_figures
from lightoff.judging.verdict import judge, stops_of
from lightoff.judging.view import View, view
from lightoff.physics.fuel import Fuel
from lightoff.terms.case import Case
from lightoff.terms.part import MoveKind
from lightoff.terms.shelf import Catalogue, Limits, Sheet
from lightoff.terms.visit import Stage

AREA_OF_GATE = {
    Area.SAFETY: (
        "living-space CO",
        "exhaust path",
        "inlet",
        "fuel joints",
        "trials",
        "response check",
        "one test",
        "calibration",
        "belongs here",
        "conflict",
    ),
    Area.BURN: (
        "flue CO",
        "flue O2",
        "CO2 agrees",
        "smoke",
        "smoke spot",
        "two sets",
        "steady",
        "fresh air",
        "zero",
        "sampling line",
    ),
    Area.LIGHT_OFF: ("light-off", "after-run"),
}
# A verdict needs the gates; these areas can lower it where they were measured, and not where they were not.
OPTIONAL = (Area.FIRING_RATE, Area.SUPPLY, Area.WARM_UP)
MOST_NOTICES = 3
# Told in the area of the burn, and too small a thing for the running paragraph.
_ASIDE = frozenset(("physics.dry_air_assumed", "physics.co2_calculated", "physics.co_not_measured"))


def assess(
    case: Case,
    *,
    sheet: Sheet,
    fuel: Fuel | None,
    limits: Limits,
    catalogue: Catalogue,
    now: datetime,
    bands: Bands | None = None,
) -> Assessment:
    """Judge one visit.

    `fuel` is None where nobody said what was burned; `now` is the moment of judging, handed in. `bands` are
    what each reading of this heater is expected to be here: they can lower a judgement and never raise one.
    """
    asked = Asked(case=case, sheet=sheet, fuel=fuel, bands=bands)
    return assess_each([asked], limits=limits, catalogue=catalogue, now=now)[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One visit that is to be judged, with its heater's sheet, its fuel, and what is expected to be read."""

    case: Case
    sheet: Sheet
    fuel: Fuel | None
    bands: Bands | None = None


def assess_each(
    asked: Sequence[Asked], *, limits: Limits, catalogue: Catalogue, now: datetime
) -> tuple[Assessment, ...]:
    """Judge several visits as `assess` judges each of them.

    Their flue readings are analysed together, which takes little longer than those of one.
    """
    begun = []
    for each in asked:
        case, sheet, fuel = each.case, each.sheet, each.fuel
        believed = believe(case, catalogue, now)
        core = judge(
            case,
            limits=limits,
            catalogue=catalogue,
            sheet=sheet,
            co2_largest_fraction=fuel.stoichiometry.largest_dry_co2_fraction if fuel else 0.0,
            now=now,
            believed=believed,
        )
        seen = view(believed, sheet=sheet, fuel=fuel, limits=limits, catalogue=catalogue, gates=core.gates)
        begun.append((core, seen))
    burned = burns([seen for _, seen in begun])
    return tuple(
        _assessed(core, seen, burns_of, bands=each.bands, limits=limits, now=now)
        for each, (core, seen), burns_of in zip(asked, begun, burned, strict=True)
    )


def _assessed(
    core: VerdictResult,
    seen: View,
    burned: tuple[Burn, ...],
    *,
    bands: Bands | None,
    limits: Limits,
    now: datetime,
) -> Assessment:
    case, sheet, fuel, catalogue = seen.case, seen.sheet, seen.fuel, seen.catalogue
    parts = with_expected(_parts(seen, burned, core), seen, bands or {})
    extra = tuple(gate for part in parts.values() for gate in resting(part.gates, case))
    verdict = _with(core, extra)
    areas = tuple(_area(area, verdict, parts[area], seen) for area in Area)
    stands = danger_stands(verdict.gates, seen)
    useful = None if stands else most_useful(verdict.gates, seen)
    wanted = instruments_wanted(verdict.gates, seen)
    left = practice.burn_time_left(seen)
    steady = any(g.gate == "steady" and g.judgement is Judgement.WITHIN for g in verdict.gates)
    trip = travel.travel(seen, burned)
    drifted = practice.drift(seen, [figure for part in parts.values() for figure in part.figures])
    return Assessment(
        visit=case.visit.id,
        heater=case.heater.id,
        judged_at=now,
        verdict=verdict,
        said=message(f"verdict_said.{verdict.verdict}"),
        work_done=_work_done(case),
        measured=_measured(seen),
        kit=_kit(seen),
        areas=areas,
        paragraph=_paragraph(
            verdict, areas, burned, left[1] if left and not steady else None, useful, wanted
        ),
        most_useful=useful,
        notices=(*drifted, *trip.notices, *verdict.set_aside)[:MOST_NOTICES],
        triangle=with_expected_o2(triangle(seen, burned), bands or {}) if fuel else None,
        burn_time_left=left[0] if left and not steady else None,
        travel=trip.sentences,
        inputs_sha256=inputs_hash(case, sheet=sheet, fuel=fuel, limits=limits, catalogue=catalogue),
        shelf_sha256=hash_of(limits.sha256, catalogue.sha256, sheet.sha256, fuel_hash(fuel)),
        limits_version=limits.version,
        instruments_wanted=wanted,
        absent=absent_figures(seen.believed),
        expected=bands or {},
    )


def with_gate(found: Assessment, gate: GateResult) -> Assessment:
    """The judgement with one gate more, which can lower the verdict and never raise it; the words follow.

    A gate of the same name that stands already is one with it: the worse judgement, and both sentences.
    """
    own = next((each for each in found.verdict.gates if each.gate == gate.gate), None)
    others = tuple(each for each in found.verdict.gates if each is not own)
    whole = gate if own is None else _merged(own, gate)
    verdict = _with(replace(found.verdict, gates=others), (whole,))
    said = [each for each in found.paragraph if not each.key.startswith("judging.closing_")]
    said.append(gate.said)
    return replace(
        found,
        verdict=verdict,
        said=message(f"verdict_said.{verdict.verdict}"),
        areas=tuple(_lowered(each, gate) for each in found.areas),
        paragraph=(*said, _closing(verdict, found.most_useful, said)),
    )


def _merged(own: GateResult, more: GateResult) -> GateResult:
    judgement = worst((own.judgement, more.judgement))
    if own.judgement is Judgement.WITHIN:
        return replace(own, judgement=judgement, said=more.said)
    return replace(own, judgement=judgement, said=message("conflict.and_then", one=more.said, rest=own.said))


def _lowered(area: AreaJudgement, gate: GateResult) -> AreaJudgement:
    """The area of a gate with that gate's judgement and sentence."""
    if gate.gate not in AREA_OF_GATE.get(area.area, ()) or gate.judgement is Judgement.WITHIN:
        return area
    told = tuple(each for each in area.sentences if each.key != "judging.area_within")
    return replace(area, judgement=worst((area.judgement, gate.judgement)), sentences=(*told, gate.said))


def inputs_hash(case: Case, *, sheet: Sheet, fuel: Fuel | None, limits: Limits, catalogue: Catalogue) -> str:
    """The hash of everything that a judgement was made from; it does not depend on order of entry."""
    return hash_of(
        visit_hash(case.visit),
        repr(case.heater),
        repr(case.vehicle),
        repr(sorted(case.instruments.items())),
        " ".join(map(visit_hash, case.history)),
        repr(case.conflicts),
        limits.sha256,
        catalogue.sha256,
        sheet.sha256,
        fuel_hash(fuel),
    )


def _parts(seen: View, burned: tuple[Burn, ...], core: VerdictResult) -> dict[Area, Practice]:
    """Figures, sentences and further gates of each area."""
    stack = stack_gate(seen, burned)
    said = burned[-1] if burned else None
    return {
        Area.SAFETY: Practice(figures=living_space_figures(seen)),
        Area.BURN: Practice(
            figures=tuple(figure for each in burned for figure in burn_figures(seen, each)) + _smoke(seen),
            sentences=_burn_said(said, core) if said else (),
            gates=(stack,) if stack else (),
        ),
        Area.FIRING_RATE: firing_rate.firing_rate(seen, burned),
        Area.LIGHT_OFF: practice.light_off(seen),
        Area.SUPPLY: practice.supply(seen),
        Area.WARM_UP: practice.warm_up(seen),
    }


def _burn_said(burn: Burn, core: VerdictResult) -> tuple[Message, ...]:
    """The burn's sentences; that CO2 was calculated is told once, by the gate that knows what follows."""
    gate = next(each for each in core.gates if each.gate == "CO2 agrees")
    tells = gate.said.key.startswith("judging.co2_calculated")
    said = burn_sentences(burn)
    return tuple(gate.said if tells and each.key == "physics.co2_calculated" else each for each in said)


def _smoke(seen: View) -> tuple[Figure, ...]:
    row = seen.rows.strictest("smoke_number", "not fit")
    reads = (seen.number("smoke_number", stage) for stage in Stage)
    found = (
        seen.as_counted(seen.figure("smoke_number", read, limit=row)) for read in reads if read is not None
    )
    return tuple(each for each in found if each is not None)


def _with(core: VerdictResult, extra: tuple[GateResult, ...]) -> VerdictResult:
    """The verdict with the gates of the areas added: they can lower it and never raise it."""
    gates = tuple(sorted((*core.gates, *extra), key=lambda gate: WORST_FIRST.index(gate.judgement)))
    return replace(
        core,
        gates=gates,
        verdict=VERDICT_OF[worst(gate.judgement for gate in gates)],
        stops=stops_of(gates),
    )


def _area(area: Area, verdict: VerdictResult, part: Practice, seen: View) -> AreaJudgement:
    names = (*AREA_OF_GATE.get(area, ()), *(gate.gate for gate in part.gates))
    gates = tuple(gate for gate in verdict.gates if gate.gate in names)
    judgement = worst(gate.judgement for gate in gates)
    missing = tuple(dict.fromkeys(key for gate in gates for key in gate.missing))
    told = tuple(gate.said for gate in gates if gate.judgement is not Judgement.WITHIN)
    sentences = (*part.sentences, *(said for said in told if said not in part.sentences))
    if not sentences:
        nothing = area in OPTIONAL and not gates
        sentences = (message("judging.not_measured" if nothing else "judging.area_within"),)
    useful = None if danger_stands(verdict.gates, seen) else most_useful(gates, seen)
    return AreaJudgement(
        area=area,
        judgement=judgement,
        sentences=sentences,
        figures=part.figures,
        limits=tuple(dict.fromkeys(row for gate in gates for row in gate.limits)),
        missing=missing,
        most_useful=useful,
        cautions=_cautions(useful, seen),
        next_steps=_next_steps(gates, useful),
    )


def _cautions(key: str | None, seen: View) -> tuple[Message, ...]:
    entry = seen.catalogue.entries.get(key) if key else None
    return (message(f"caution.{entry.caution}"),) if entry is not None and entry.caution else ()


def _next_steps(gates: tuple[GateResult, ...], useful: str | None) -> tuple[Message, ...]:
    steps = [message(f"judging.stop_{stop.replace(' ', '_')}") for stop in stops_of(gates)]
    if any(gate.judgement is Judgement.OUTSIDE for gate in gates):
        steps.append(message("judging.mend_and_test_again"))
    if useful is not None:
        steps.append(message("judging.read_next", what=f"@reading.{useful}", how=f"@reading_how.{useful}"))
    return tuple(steps)


def _work_done(case: Case) -> Message:
    visit = case.visit
    if visit.service_complete:
        return message("judging.work_complete")
    if visit.work_done or any(each.kind is not MoveKind.FOUND for each in visit.moves):
        return message("judging.work_open")
    return message("judging.work_steps" if visit.steps else "judging.work_none")


_GROUPS = (
    ("gas", FLUE),
    ("smoke", ("smoke_number", "smoke_spot_look")),
    ("living_space", ("living_space_co_running",)),
    ("fuel_rate", ("fuel_volume",)),
    ("light_off", ("time_to_light", "light_off")),
    ("supply", ("supply_voltage_igniter", "igniter_current")),
    ("warm_up", ("warm_up_time",)),
)


def _measured(seen: View) -> Message:
    read = {one.reading.key for one in seen.believed.judged}
    groups = tuple(message(f"judging.group_{name}") for name, keys in _GROUPS if read & set(keys))
    if not groups:
        return message("judging.measured_nothing")
    if not read & set(FLUE):
        return message("judging.measured_without_gas", what=groups)
    return message("judging.measured", what=groups)


def _kit(seen: View) -> int:
    """The smallest kit of instruments that reads all that was read."""
    return max((one.entry.kit for one in seen.believed.judged), default=1)


def _paragraph(
    verdict: VerdictResult,
    areas: tuple[AreaJudgement, ...],
    burned: tuple[Burn, ...],
    time_left: Message | None,
    useful: str | None,
    wanted: tuple[str, ...],
) -> tuple[Message, ...]:
    """The running paragraph: danger first, then the burn, what agrees, is crossed and is still open."""
    by_gate = {gate.gate: gate for gate in verdict.gates}
    said = [gate.said for gate in verdict.gates if gate.judgement is Judgement.STOP]
    if burned:
        said.extend(each for each in burn_sentences(burned[-1]) if each.key not in _ASIDE)
        beside = [by_gate[name].said for name in ("CO2 agrees", "flue CO") if by_gate[name].readings]
        asked = any(each.key == "judging.o2_no_basis" for each in said)  # dry or wet: asked once, not twice
        said.extend(each for each in beside if not (asked and each.key == "judging.doubt_no_basis"))
    for area in areas:
        if area.area not in (Area.BURN, Area.SAFETY):
            said.extend(area.sentences[:2] if area.figures else ())
    said.extend(gate.said for gate in verdict.gates if gate.judgement is Judgement.OUTSIDE)
    if time_left is not None:
        said.append(time_left)
    said.append(_closing(verdict, useful, said))
    if wanted and useful is None and verdict.verdict is Verdict.NOT_PROVEN:
        what = tuple(message("list.item", what=f"@class.{each}") for each in wanted)
        said.append(message("judging.instruments_wanted", what=what))
    return tuple(_unique(said))


def _unique(said: Iterable[Message]) -> list[Message]:
    seen: list[Message] = []
    for each in said:
        if each not in seen:
            seen.append(each)
    return seen


def _closing(verdict: VerdictResult, useful: str | None, said: list[Message]) -> Message:
    state = f"@verdict_word.{verdict.verdict}"
    if verdict.verdict is Verdict.STOP:
        what = tuple(message(f"stops.{stop}") for stop in verdict.stops)
        return message("judging.closing_stop", state=state, what=what)
    if verdict.verdict is Verdict.NOT_FIT:
        return message("judging.closing_not_fit", state=state)
    if verdict.verdict is Verdict.NOT_PROVEN:
        open_gates = [gate for gate in verdict.gates if gate.judgement is Judgement.NOT_PROVEN]
        first = min(open_gates, key=lambda gate: _closes_by(gate, useful))
        more = len(open_gates) - 1
        above = "_above" if first.said in said else ""  # told already: it is not told twice
        name = f"judging.closing_not_proven{above}{('_last', '_two', '')[min(more, 2)]}"
        return message(name, state=state, why=first.said, more=more)
    return message("judging.closing_fit", state=state)


def _closes_by(gate: GateResult, useful: str | None) -> tuple[bool, int, str]:
    """The gate that the most useful reading would close is told first."""
    return (useful not in gate.missing, min((rank(key) for key in gate.missing), default=-1), gate.gate)

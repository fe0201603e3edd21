"""What stands behind the verdict: what is still open, the limits and their sources, the instruments."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from lightoff.ground.message import AsWritten, Message
from lightoff.ground.sources import SOURCES, Seen
from lightoff.judging.assessment import Assessment, Judgement, Verdict
from lightoff.terms.case import Case
from lightoff.terms.people import Instrument
from lightoff.terms.shelf import Accuracy, Limit
from lightoff.terms.visit import Reading
from lightoff.texts import Speaker, effect_words, gate_name, how_to_prove, limit_words
from lightoff.work.asked_about import asked_about

if TYPE_CHECKING:
    from lightoff.shelf import Shelf


def proof(case: Case, assessment: Assessment, *, shelf: Shelf, speaker: Speaker) -> dict[str, Any]:
    """Three tables: not proven, limits used, instruments used."""
    return {
        "open": _open(assessment, asked_about(case, shelf), speaker),
        "limits": _limits(assessment, shelf, speaker),
        "instruments": _instruments(case, shelf, speaker),
        "fuel": _fuel(case, shelf, speaker),
    }


def _open(assessment: Assessment, asked: Sequence[Message], speaker: Speaker) -> dict[str, Any]:
    """Every gate that is not proven, why, and how to prove it; each how-to stands once.

    Below them what was set aside, and what was `asked` about a reading that counts as it is written.
    """
    rows = []
    told: set[str] = set()
    stopped = assessment.verdict.verdict is Verdict.STOP
    for gate in assessment.verdict.gates:
        if gate.judgement is Judgement.NOT_PROVEN:
            how = "" if stopped else how_to_prove(gate.said.key, gate.missing, speaker)
            rows.append([gate_name(gate.gate, speaker), speaker.say(gate.said), "" if how in told else how])
            told.add(how)
    return {
        "heading": speaker.text("report.not_proven"),
        "rows": rows,
        "heads": [speaker.text(f"report.head_{key}") for key in ("point", "why_open")],
        "first": speaker.text("report.not_before_mended") if stopped and rows else "",
        "none": speaker.text("report.nothing_open"),
        "aside": [speaker.say(said) for said in (*assessment.verdict.set_aside, *asked)],
    }


def _limits(assessment: Assessment, shelf: Shelf, speaker: Speaker) -> dict[str, Any]:
    """Each limit that a gate or a figure used; the limits of one thing, effect and source in one row."""
    used: dict[str, tuple[Limit, str]] = {}
    for gate in assessment.verdict.gates:
        for row in gate.limits:
            used.setdefault(row.key, (row, gate_name(gate.gate, speaker)))
    for area in assessment.areas:
        for row in (*area.limits, *(figure.limit for figure in area.figures if figure.limit)):
            used.setdefault(row.key, (row, _quantity(row.quantity, speaker)))
    rows: dict[tuple[str, str, str], dict[str, None]] = {}
    for row, name in used.values():
        rows.setdefault((name, effect_words(row, speaker), _source(row, shelf, speaker)), {})[
            limit_words(row, speaker)
        ] = None
    groups: dict[str, list[list[str]]] = {}
    for (name, effect, source), limits in rows.items():
        groups.setdefault(source, []).append([name, ", ".join(limits), effect])
    return {
        "heading": speaker.text("report.limits"),
        "heads": [speaker.text(f"report.head_{key}") for key in ("what", "limit", "beyond")],
        "groups": [[speaker.text("report.from", source=source), group] for source, group in groups.items()],
        "none": speaker.text("report.no_limits"),
    }


def _source(row: Limit, shelf: Shelf, speaker: Speaker) -> str:
    """Where a limit comes from, and how well this project knows that source."""
    source = SOURCES.get(row.source)
    if source is None:
        sheet = shelf.sheets.get(row.source.removeprefix("sheet "))
        return row.source if sheet is None else speaker.text("report.sheet", name=sheet.name)
    place = ", ".join(filter(None, (source.title, source.edition, source.place)))
    if source.seen is Seen.FIRST_HAND:
        return place
    return speaker.text("report.source_seen", source=place, seen=f"@report.{source.seen.name.lower()}")


def _quantity(key: str, speaker: Speaker) -> str:
    named = next((each for each in (f"figure.{key}", f"reading.{key}") if speaker.has(each)), None)
    text = speaker.text(named) if named else key.replace("_", " ")
    return text[:1].upper() + text[1:]


def _instruments(case: Case, shelf: Shelf, speaker: Speaker) -> dict[str, Any]:
    """Each instrument of this visit: number, accuracy of its class for what it read, calibration."""
    read: dict[str, list[Reading]] = {}
    for reading in case.visit.readings:
        if reading.instrument is not None:
            read.setdefault(reading.instrument, []).append(reading)
    rows = []
    for identity, readings in read.items():
        instrument = case.instruments.get(identity)
        if instrument is None:
            rows.append([speaker.text("report.instrument_unknown"), "", ""])
        else:
            days = [case.visit.day_of(each.taken_at) for each in readings if each.taken_at is not None]
            # A visit of last year was read by last year's calibration.
            calibrated = instrument.calibrated_by(max(days)) if days else None
            rows.append(_instrument(instrument, readings, shelf, speaker, calibrated_on=calibrated))
    return {
        "heading": speaker.text("report.instruments"),
        "heads": [speaker.text(f"report.head_{key}") for key in ("instrument", "accuracy", "calibrated")],
        "rows": rows,
        "none": speaker.text("report.no_instruments"),
    }


def _instrument(
    instrument: Instrument,
    readings: Sequence[Reading],
    shelf: Shelf,
    speaker: Speaker,
    *,
    calibrated_on: date | None,
) -> list[str]:
    kind = shelf.catalogue.classes.get(instrument.kind)
    name = instrument.name
    if instrument.serial:
        name = speaker.text("report.with_serial", name=name, serial=instrument.serial)
    accuracies: dict[str, list[str]] = {}
    for key in dict.fromkeys(each.key for each in readings):
        # The checks of a meter against fresh air are read with it too, and as well.
        if kind is not None and key in kind.accuracies and not key.startswith(("fresh_air_", "co_response")):
            label = _quantity(key, speaker)
            accuracies.setdefault(_accuracy(kind.accuracies[key], speaker), []).append(label)
    said = ". ".join(
        speaker.text("report.accuracy_of", width=width, what="; ".join(labels))
        for width, labels in accuracies.items()
    )
    if calibrated_on is not None:
        calibrated = speaker.day(calibrated_on)
    else:
        calibrated = speaker.text(
            "report.date_unknown" if kind is None or kind.electronic else "report.date_not_needed"
        )
    return [name, said or speaker.text("report.class_unknown"), calibrated]


def _accuracy(accuracy: Accuracy, speaker: Speaker) -> str:
    unit = accuracy.unit
    if unit in ("degC", "degF"):
        unit = "K diff" if unit == "degC" else "degF diff"
    absolute = speaker.as_written(AsWritten(value=accuracy.absolute, unit=unit))
    if not accuracy.relative:
        return f"± {absolute}"
    share = f"{(accuracy.relative * 100).normalize():f} %"
    if not accuracy.absolute:
        return f"± {share}"
    return speaker.text("report.accuracy", absolute=absolute, share=share)


def _fuel(case: Case, shelf: Shelf, speaker: Speaker) -> str:
    fuel = shelf.fuels.get(case.visit.fuel)
    if fuel is None:
        return speaker.text("report.fuel_unknown")
    return speaker.text("report.fuel", fuel=fuel.name)

"""Gates and rows of the limits table in words, the same on every face."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from lightoff.ground import units
from lightoff.ground.estimate import Estimate
from lightoff.ground.message import Amount, AsWritten, Value, message
from lightoff.terms.shelf import Comparison, Limit
from lightoff.texts.speaker import Speaker


def gate_name(gate: str, speaker: Speaker) -> str:
    """What a gate is called in plain words."""
    key = f"gate.{gate.replace(' ', '_')}"
    text = speaker.text(key) if speaker.has(key) else gate.replace("_", " ")
    return text[:1].upper() + text[1:]


def how_to_prove(said: str, missing: Sequence[str], speaker: Speaker) -> str:
    """How to close an open gate, by the key of what it says; else how its first missing reading is taken."""
    key = f"proving.{said.removeprefix('judging.')}"
    if speaker.has(key):
        return speaker.text(key)
    return speaker.text(f"reading_how.{missing[0]}") if missing else ""


def limit_words(row: Limit, speaker: Speaker) -> str:
    """The limit as its row gives it: "at most 200 ppm", "20.9 % ± 0.3 %", "not wet"."""
    if row.value is None:
        key = "limit.none_of" if row.comparison is Comparison.NONE_OF else "limit.one_of"
        states = speaker.text("limit.or").join(_state(each, speaker) for each in row.states)
        return speaker.text(key, states=states)
    value = _number(row, row.value, speaker)
    if row.tolerance is not None:
        return f"{value} ± {speaker.as_written(AsWritten(value=row.tolerance, unit=row.unit))}"
    return f"{speaker.text(f'comparison.{row.comparison}')} {value}"


def begins_at_limit(expected: Estimate, limit: Limit | None) -> bool:
    """Whether a band was cut at the floor of its reading."""
    if limit is None or limit.value is None or limit.comparison is not Comparison.AT_LEAST:
        return False
    return expected.low <= units.to_si(limit.value, limit.unit) * (1.0 + 1e-9)


def band_words(
    expected: Estimate, limit: Limit | None, speaker: Speaker, *, low: Value, high: Value, by_sheet: bool
) -> str:
    """A band in words, its two ends as they are told: "expected 4.1 to 5.9", "expected up to 5.9", "by its
    sheet 35 to 60"."""
    if begins_at_limit(expected, limit):
        return speaker.text("band.up_to", high=high)
    return speaker.text("band.by_sheet" if by_sheet else "band.here", low=low, high=high)


def sets_words(sets: Sequence[Estimate], dimension: str, speaker: Speaker) -> str:
    """The numbers of every set of flue readings, where the reader would see them differ; else ""."""
    digits = [speaker.number(each.value, dimension) for each in sets]
    if len(set(digits)) < 2:
        return ""
    return speaker.text("drawing.sets", numbers=tuple(message("list.item", what=each) for each in digits))


def effect_words(row: Limit, speaker: Speaker) -> str:
    """What lies beyond the limit: "not fit", "stop, do not fire"."""
    if row.effect == "stop" and row.stops:
        return speaker.text("report.effect_stop", what=speaker.text(f"stops.{row.stops}").lower())
    known = f"verdict.{row.effect}"
    return speaker.text(known).lower() if speaker.has(known) else row.effect


def _number(row: Limit, value: Decimal, speaker: Speaker) -> str:
    """As written; a share of something is told with what it is of, a temperature in the reader's unit."""
    of = f"limit_of.{row.quantity}"
    if not row.unit and speaker.has(of):
        share = AsWritten(value=Decimal(f"{(value * 100).normalize():f}"), unit="%")
        return speaker.text(of, share=share)
    if row.unit in units.units_of("temperature"):
        return speaker.amount(Amount(value=units.to_si(value, row.unit), dimension="temperature"))
    return speaker.as_written(AsWritten(value=value, unit=row.unit))


def _state(state: str, speaker: Speaker) -> str:
    key = f"state.{state.replace(' ', '_')}"
    return speaker.text(key) if speaker.has(key) else state

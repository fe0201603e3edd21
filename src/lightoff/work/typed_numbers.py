"""Numbers as people type them: one separator, no grouping, nothing guessed.

The decimal sign is a point or a comma. A comma before exactly three figures could be a thousands sign
("1,500" ppm read as 1.5 would make a deadly reading a clean one), so that is refused; nothing else is.
The face shows back the number and the unit that it understood.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from decimal import Decimal

from lightoff.ground import units
from lightoff.ground.errors import Refusal
from lightoff.ground.message import AsWritten, message

# What a meter shows: no exponent, no more figures than any instrument has.
_NUMBER = re.compile(r"([+\-\u2212]?)(\d{1,20})(?:([.,])(\d{1,20}))?", re.ASCII)
_NUMBER_AND_UNIT = re.compile(r"([+\-\u2212]?[\d.,]+)\s*(.*)", re.ASCII | re.DOTALL)
_MOST_SHOWN = 40
# How units are written by hand, beside the spelling of `ground.units`.
_BY_HAND = {
    "°c": "degC",
    "c": "degC",
    "deg c": "degC",
    "celsius": "degC",
    "°f": "degF",
    "f": "degF",
    "deg f": "degF",
    "fahrenheit": "degF",
    "percent": "%",
    "mg/m3": "mg/m3 CO",
    "mg/m³": "mg/m3 CO",
    "l": "L",
    "ml": "mL",
    "l/h": "L/h",
    "l/min": "L/min",
    "gal": "US gal",
    "gal/h": "US gal/h",
    "gph": "US gal/h",
    "gal/min": "US gal/min",
    "gpm": "US gal/min",
    "fl oz": "US fl oz",
    "sec": "s",
    "seconds": "s",
    "minutes": "min",
    "hours": "h",
    "days": "d",
    "btu/h": "Btu/h",
    "volt": "V",
    "amp": "A",
    "amps": "A",
    "ω": "ohm",
    "kω": "kohm",
    "inh₂o": "inH2O",
    "smoke": "smoke no.",
}


def number(text: str, *, field: str | None = None) -> Decimal:
    """The number a person typed, with its figures as typed.

    Raises Refusal for anything that is not plainly one number.
    """
    typed = text.strip()
    shown = shortened(typed)
    if not typed:
        raise Refusal(message("typed.empty"), field=field)
    found = _NUMBER.fullmatch(typed)
    if found is None:
        raise Refusal(message(_why_not(typed), got=shown), field=field)
    sign, whole, separator, decimals = found.groups()
    if separator == "," and len(decimals) == 3 and whole.strip("0"):
        said = message("typed.grouped", got=shown, large=f"{whole}{decimals}", small=f"{whole}.{decimals}")
        raise Refusal(said, field=field)
    minus = "-" if sign in ("-", "\u2212") else ""
    return Decimal(f"{minus}{whole}.{decimals}" if separator else f"{minus}{whole}")


def number_and_unit(text: str, *, unit: str, field: str | None = None) -> AsWritten:
    """A typed number with the unit written behind it, or with `unit` where none is.

    Raises Refusal for what is no number, and for a unit that nobody knows.
    """
    found = _NUMBER_AND_UNIT.fullmatch(text.strip())
    if found is None or not found[2]:
        return AsWritten(value=number(text, field=field), unit=unit)
    kind = units.unit(unit).dimension
    return AsWritten(value=number(found[1], field=field), unit=unit_named(found[2], field=field, kind=kind))


def unit_named(text: str, *, field: str | None = None, kind: str = "") -> str:
    """The unit of `ground.units` that a person means.

    Raises Refusal, naming the nearest one, or all that are possible where two are as near: of `kind`, a
    dimension, where it is known.
    """
    written = text.strip()
    if written in units.UNITS:
        return written
    by_hand = _BY_HAND.get(written.lower().rstrip("."))
    if by_hand is not None:
        return by_hand
    known = [each for each in (units.units_of(kind) if kind else units.UNITS) if each]
    near = nearest(written, known)
    key = "typed.unit_near" if near else "error.unit_unknown"
    possible = ", ".join(known)
    raise Refusal(message(key, unit=shortened(written), near=near, possible=possible), field=field)


def nearest(word: str, known: Iterable[str]) -> str:
    """The known word that was most likely meant, or "" where none is near, or two are equally so."""
    candidates = {each.lower(): each for each in known}
    typed = word[:100].lower()
    found = difflib.get_close_matches(typed, candidates, n=2, cutoff=0.6)
    alike = {difflib.SequenceMatcher(None, each, typed).ratio() for each in found}
    return candidates[found[0]] if len(alike) == len(found) > 0 else ""


def shortened(text: str) -> str:
    """What was typed, short and printable enough to stand in a sentence."""
    clean = "".join(each if each.isprintable() else "?" for each in text[: _MOST_SHOWN + 1])
    return clean if len(clean) <= _MOST_SHOWN else clean[: _MOST_SHOWN - 1] + "…"


def _why_not(typed: str) -> str:
    """The key of the sentence that fits what was typed."""
    bare = typed.lstrip("+-\u2212").lower()
    if bare in ("nan", "inf", "infinity", "sonan", "snan"):
        return "typed.not_finite"
    if set(bare) <= set("-–—.,_ "):
        return "typed.dashes"
    if len(re.findall(r"[.,]", bare)) > 1 or re.search(r"\d[ '_\u00a0\u202f]\d", bare):
        return "typed.two_separators"
    if re.fullmatch(r"[\d.,]+e[+-]?\d+", bare):
        return "typed.exponent"
    return "typed.not_a_number"

"""The voice of the house: templates of one language, filled in one system of units."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import field
from datetime import UTC, date, datetime, tzinfo
from decimal import ROUND_HALF_EVEN, Decimal
from functools import lru_cache
from importlib.resources import files
from types import MappingProxyType
from typing import Literal

import tomli

from lightoff.ground import units
from lightoff.ground.message import Amount, AsWritten, DayOf, Message, Value
from lightoff.ground.values import dataclass
from lightoff.terms.visit import BY_PHOTOGRAPH, GROUPED, Reading

LANGUAGES = ("en",)
SYSTEMS = ("metric", "us")
_OF_A_SHOP = ("reading.", "reading_how.", "state.", "fault.", "part.", "fuel.", "class.", "sheet.")
_FINER, _FINE = {"V": "mV", "kPa": "Pa"}, 0.5
"""Below this a number of one decimal is told in the finer unit: drops of millivolts, back pressures."""
_NOTHING: Mapping[str, str] = MappingProxyType({})
_PLACEHOLDER = re.compile(r"\{([a-z0-9_]+)\}")


@dataclass(frozen=True, slots=True)
class Part:
    """A piece of a sentence; a page may set numbers bold and states with their glyph."""

    kind: Literal["text", "number", "unit", "state"]
    text: str


@lru_cache(maxsize=len(LANGUAGES))
def templates(language: str) -> Mapping[str, str]:
    """All templates of a language by key. Raises ValueError if two files give the same key."""
    found: dict[str, str] = {}
    folder = files("lightoff.texts") / language
    for file in sorted(folder.iterdir(), key=lambda each: each.name):
        if not file.name.endswith(".toml"):
            continue
        for section, table in tomli.loads(file.read_text(encoding="utf-8")).items():
            for key, text in table.items():
                full = f"{section}.{key}"
                if full in found:
                    raise ValueError(f"{file.name} gives {full} a second time")
                found[full] = text
    return MappingProxyType(found | _attempts(found))


def _attempts(found: Mapping[str, str]) -> dict[str, str]:
    """What may be tried is kept as a reading, and is called what its trial or repair is called."""
    said = {"trial": ("reading", ""), "trial_how": ("reading_how", "")}
    said |= {"fault": ("reading", "repair_"), "fault_repair": ("reading_how", "repair_")}
    return {
        f"{said[section][0]}.{said[section][1]}{name}": text
        for (section, _, name), text in ((key.partition("."), text) for key, text in found.items())
        if section in said
    }


@lru_cache(maxsize=4096)
def _cut(template: str) -> tuple[tuple[str, str | None], ...]:
    """A template in pieces: words, and the name of the value that follows them, None after the last."""
    *filled, last = _PLACEHOLDER.split(template)
    return (*zip(filled[::2], filled[1::2], strict=True), (last, None))


@dataclass(frozen=True, slots=True)
class Speaker:
    """Says messages in one language and one system of units, at one place's clock.

    `own` are the words of what a shop put on its shelf, by key ("reading.roof_vent"): taken as they stand.
    """

    language: str = "en"
    units: str = "metric"
    zone: tzinfo = UTC
    own: Mapping[str, str] = field(default_factory=lambda: _NOTHING, compare=False)

    def say(self, message: Message) -> str:
        """The whole sentence."""
        text = "".join([part.text for part in self._pieces(message)])
        return text[:1].upper() + text[1:] if self._is_sentence(message.key) else text

    def parts(self, message: Message) -> tuple[Part, ...]:
        """The sentence in pieces, neighbours of one kind joined."""
        joined: list[Part] = []
        for part in self._pieces(message):
            if joined and joined[-1].kind == part.kind:
                joined[-1] = Part(part.kind, joined[-1].text + part.text)
            elif part.text:
                joined.append(part)
        if joined and self._is_sentence(message.key):
            joined[0] = Part(joined[0].kind, joined[0].text[0].upper() + joined[0].text[1:])
        return tuple(joined)

    def _is_sentence(self, key: str) -> bool:
        return templates(self.language).get(key, "").endswith((".", "!", "?"))

    def text(self, key: str, /, **values: Value) -> str:
        """The template `key`, filled."""
        return self.say(Message(key, MappingProxyType(values)))

    def has(self, key: str) -> bool:
        """Whether the language, or the shop for its own, has this text."""
        return key in templates(self.language) or key in self.own

    def reading(self, reading: Reading | None) -> str:
        """What a reading says: its number as written, its state in words, "----" at the top of a range."""
        if reading is None:
            return ""
        if reading.value is not None:
            said = self.as_written(AsWritten(value=reading.value, unit=reading.unit))
            return (
                f"{said}, {self.text('reading_own.by_photograph')}"
                if reading.basis == BY_PHOTOGRAPH
                else said
            )
        said = self.state_word(reading.key, reading.state) if reading.state else "----"
        return f"{said}, {self.text('reading_own.grouped')}" if reading.basis == GROUPED else said

    def state_word(self, reading: str, state: str) -> str:
        """A state of a reading in words; one that a shop added is its own word."""
        word = state.replace(" ", "_")
        found = (each for each in (f"state.{reading}.{word}", f"state.{word}") if self.has(each))
        return next((self.text(each) for each in found), state)

    def symbol(self, unit: str) -> str:
        """How people write a unit of `ground.units`."""
        return templates(self.language).get(f"unit.{unit}", unit)

    def unit(self, dimension: str) -> str:
        """The unit in which this reader sees the dimension, as people write it."""
        return self.symbol(self.unit_key(dimension))

    def unit_key(self, dimension: str) -> str:
        """The unit in which this reader sees the dimension, as `ground.units` names it."""
        shown = units.DIMENSIONS[dimension]
        return shown.us if self.units == "us" else shown.metric

    def number(self, value: float, dimension: str, *, unit: str = "") -> str:
        """A SI value as digits in the reader's unit, or in another one of the dimension."""
        unit = unit or self.unit_key(dimension)
        shown = units.from_si(value, unit)
        return self._digits(shown, self._decimals(shown, units.UNITS[unit].decimals))

    def width(self, half_width: float, dimension: str) -> str:
        """A half width as digits in the reader's unit."""
        unit = self.unit_key(dimension)
        return self._digits(units.width_from_si(half_width, unit), units.UNITS[unit].decimals)

    def amount(self, amount: Amount) -> str:
        """A value with its unit and, where it has one, its uncertainty."""
        return "".join(part.text for part in self._amount(amount))

    def as_written(self, written: AsWritten) -> str:
        """A number as it was typed, with its unit."""
        return "".join(part.text for part in self._as_written(written))

    def day(self, when: date) -> str:
        """A date in words: 25 November 2026."""
        day = self.date_of(when) if isinstance(when, datetime) else when
        return f"{day.day} {templates(self.language)[f'month.{day.month}']} {day.year}"

    def date_of(self, when: datetime) -> date:
        """The day that it was then by this clock."""
        return when.astimezone(self.zone).date()

    def clock(self, when: datetime) -> str:
        """A time of day: 14:32."""
        return when.astimezone(self.zone).strftime("%H:%M")

    @staticmethod
    def _decimals(shown: float, finest: int) -> int:
        """Of a large number fewer: beyond four digits nobody reads a meter of this trade."""
        return min(finest, 0 if abs(shown) >= 1000 else 1 if abs(shown) >= 100 else finest)

    @staticmethod
    @lru_cache(maxsize=16384)
    def _digits(value: float, decimals: int) -> str:
        step = Decimal(1).scaleb(-decimals)
        rounded = Decimal(repr(float(value))).quantize(step, rounding=ROUND_HALF_EVEN)
        text = f"{abs(rounded):,.{decimals}f}"
        # A true minus sign; no "-0.0".
        return f"\u2212{text}" if rounded < 0 else text

    def _pieces(self, message: Message) -> Iterator[Part]:
        known = templates(self.language)
        if message.key not in known:
            yield Part("text", self._own_words(message.key))
            return
        for words, name in _cut(known[message.key]):
            yield Part("text", words)
            if name is not None:
                yield from self._value(message.values[name])

    def _value(self, value: Value) -> Iterator[Part]:
        match value:
            case Message():
                yield from self._pieces(value)
            case Amount():
                yield from self._amount(value)
            case AsWritten():
                yield from self._as_written(value)
            case tuple():
                yield from self._list(value)
            case datetime():
                yield Part("number", self.clock(value))
            case DayOf():
                yield Part("text", self.day(value.moment))
            case date():
                yield Part("text", self.day(value))
            case int():
                yield Part("number", f"{value:,}")
            case str() if self._is_key(value):
                key = value[1:]
                kind: Literal["state", "text"] = (
                    "state" if key.startswith(("verdict.", "verdict_word.", "judgement.")) else "text"
                )
                yield Part(kind, "".join(part.text for part in self._pieces(Message(key))))
            case str():
                yield Part("text", value)

    def _is_key(self, value: str) -> bool:
        """Whether a value names a text; what people type may begin with an at sign too."""
        key = value[1:]
        return value.startswith("@") and (self.has(key) or key.startswith(_OF_A_SHOP))

    def _own_words(self, key: str) -> str:
        """What a shop calls its own; where it gave no words, the key says it."""
        if key in self.own:
            return self.own[key]
        if key.startswith("reading_how."):
            return templates(self.language)["reading_own.how"]
        if key.startswith(_OF_A_SHOP):
            return key.partition(".")[2].replace("_", " ")
        raise KeyError(f"no text for {key!r} in language {self.language!r}")

    def _amount(self, amount: Amount) -> Iterator[Part]:
        key = self._fitting(amount)
        yield Part("number", self.number(self._rounded(amount), amount.dimension, unit=key))
        if amount.half_width is not None:
            yield Part("text", f"\u00a0±\u00a0{self.width(amount.half_width, amount.dimension)}")
        unit = self.symbol(key)
        if unit:
            yield Part("unit", f"\u00a0{unit}")

    def _fitting(self, amount: Amount) -> str:
        """The reader's unit, or the finer one where little would be left of the digits."""
        unit = self.unit_key(amount.dimension)
        shown = abs(units.from_si(amount.value, unit))
        alone = amount.half_width is None and amount.significant is None
        return _FINER[unit] if alone and unit in _FINER and 0.0 < shown < _FINE else unit

    def _rounded(self, amount: Amount) -> float:
        """The SI value; a round number is round in the reader's unit as well."""
        if amount.significant is None:
            return amount.value
        unit = self.unit_key(amount.dimension)
        shown = units.from_si(amount.value, unit)
        return units.to_si(Decimal(f"{shown:.{amount.significant}g}"), unit)

    def _as_written(self, written: AsWritten) -> Iterator[Part]:
        yield Part("number", f"{written.value:f}".replace("-", "\u2212"))
        unit = self.symbol(written.unit)
        if unit:
            yield Part("unit", f"\u00a0{unit}")

    def _list(self, messages: tuple[Message, ...]) -> Iterator[Part]:
        last = len(messages) - 1
        for index, each in enumerate(messages):
            if index:
                joint = "list.last" if index == last else "list.between"
                yield Part("text", templates(self.language)[joint])
            yield from self._pieces(each)

"""The whole shelf, frozen: what ships, and what a shop has added or tightened."""

from __future__ import annotations

from collections.abc import Mapping

from lightoff.ground.errors import Refusal
from lightoff.ground.message import Message
from lightoff.ground.values import dataclass
from lightoff.physics.fuel import Fuel
from lightoff.terms.procedure import Procedure
from lightoff.terms.shelf import Catalogue, Fault, Limits, PartType, Sheet, Trial

LIMITS_FILE = "limits.toml"
REPAIR = "repair_"
"""What the key of a repair's outcome begins with, before the fault's."""
ATTEMPT_STATES = ("runs well", "no change", "could not do")
"""How a trial or a repair may end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """What lies on it; `problems` are edits of the shop that were refused.

    `leaks` is, for every reading with states, the chance that it shows another than the first though none of
    the `faults` is there.
    """

    limits: Limits
    catalogue: Catalogue
    fuels: Mapping[str, Fuel]
    sheets: Mapping[str, Sheet]
    faults: Mapping[str, Fault]
    trials: Mapping[str, Trial]
    leaks: Mapping[str, float]
    part_types: Mapping[str, PartType]
    procedures: Mapping[str, Procedure]
    sha256: str
    problems: tuple[Refusal, ...]

    @property
    def own_words(self) -> Mapping[str, str]:
        """What a shop calls what it added, and what each heater type is called, by the key of the text."""
        parts = {f"part.{each.key}": each.label for each in self.part_types.values() if each.label}
        steps = {each.key: each for procedure in self.procedures.values() for each in procedure.steps}
        works = {
            f"{kind}.{each.key}.{name}": words
            for kind, nouns in (("procedure", self.procedures), ("step", steps))
            for each in nouns.values()
            for name, words in each.words.items()
        }
        types = {f"sheet.{key}": sheet.name for key, sheet in self.sheets.items()}
        return {**self.catalogue.own_words, **parts, **works, **types}

    @property
    def limits_in_doubt(self) -> bool:
        """Whether the shop meant to tighten a limit and its words could not be read.

        A limit that would have loosened one is no doubt: what ships is the stricter, and stands.
        """
        return any(_is_lost(each.message) for each in self.problems)


def _is_lost(problem: Message) -> bool:
    why = problem.values.get("why", problem)
    harmless = isinstance(why, Message) and why.key in _LOOSENED
    return problem.values.get("file") == LIMITS_FILE and not harmless


_LOOSENED = ("error.limit_loosened", "shelf.states_loosened")

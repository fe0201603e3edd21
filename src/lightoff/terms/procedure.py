"""A service procedure: what is done on a visit, in which order, and what each step is for.

Only the frozen nouns; reading and checking the files is the work of `lightoff.shelf`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from enum import StrEnum
from types import MappingProxyType

from lightoff.ground.values import dataclass
from lightoff.terms.visit import Stage

_NOTHING: Mapping[str, tuple[str, ...]] = MappingProxyType({})
_NO_WORDS: Mapping[str, str] = MappingProxyType({})


class Phase(StrEnum):
    """The order in which a good technician works, first to last."""

    BEFORE_TRAVEL = "before_travel"
    ARRIVE = "arrive"
    PROVE = "prove"
    SHUT_DOWN = "shut_down"
    OPEN = "open"
    INSPECT = "inspect"
    CLEAN = "clean"
    RENEW = "renew"
    CLOSE_UP = "close_up"
    STORE = "store"
    PROVE_AGAIN = "prove_again"
    HEAT = "heat"
    FINISH = "finish"
    HAND_OVER = "hand_over"

    @property
    def section(self) -> str:
        """The section of the visit's card under which its steps stand, unless a step names another."""
        return _SECTIONS[self]

    @property
    def stage(self) -> Stage:
        """Whether readings of its steps are as found or as left."""
        return Stage.AS_LEFT if self in _AS_LEFT else Stage.AS_FOUND


_SECTIONS = {
    Phase.BEFORE_TRAVEL: "arrive",
    Phase.ARRIVE: "arrive",
    Phase.PROVE: "found",
    Phase.SHUT_DOWN: "work",
    Phase.OPEN: "work",
    Phase.INSPECT: "work",
    Phase.CLEAN: "work",
    Phase.RENEW: "work",
    Phase.CLOSE_UP: "work",
    Phase.STORE: "work",
    Phase.PROVE_AGAIN: "light",
    Phase.HEAT: "warm_up",
    Phase.FINISH: "close",
    Phase.HAND_OVER: "hand_over",
}
_AS_LEFT = frozenset(
    {
        Phase.CLEAN,
        Phase.RENEW,
        Phase.CLOSE_UP,
        Phase.STORE,
        Phase.PROVE_AGAIN,
        Phase.HEAT,
        Phase.FINISH,
        Phase.HAND_OVER,
    }
)


FIRING, FIRING_AGAIN = "firing", "firing_again"
"""What a step may guard besides steps and paths: every firing, and every one after the work."""
FIRED_AGAIN = (Phase.PROVE_AGAIN, Phase.HEAT, Phase.FINISH, Phase.HAND_OVER)
FIRED = (Phase.PROVE, *FIRED_AGAIN)
"""Phases in which the burner may run."""


class Photo(StrEnum):
    """Which photograph a step wants."""

    NONE = "none"
    BEFORE = "before"
    AFTER = "after"
    BOTH = "both"


class Timer(StrEnum):
    """What a step times with two taps, and which reading that becomes."""

    NONE = "none"
    LIGHT_OFF = "light_off"  # from the igniter's lamp to the flame
    AFTER_RUN = "after_run"  # from switched off till the fan stops; the sheet's length counts down

    @property
    def reading(self) -> str:
        """The reading that it takes, by its key in the catalogue; "" for none."""
        return _TIMED[self]


_TIMED = {Timer.NONE: "", Timer.LIGHT_OFF: "time_to_light", Timer.AFTER_RUN: "after_run_time"}


@dataclass(frozen=True, slots=True, kw_only=True)
class StepReading:
    """A reading of the catalogue that a step takes, and whether it is as found or as left."""

    key: str
    stage: Stage


@dataclass(frozen=True, slots=True, kw_only=True)
class ProcedureStep:
    """One step. Its words are the texts `step.<key>.title`, `.why`, `.look`, `.how`, `.tight`, `.risk`.

    A `required` step cannot be left out by anybody. What a step `guards` comes after it: other steps by
    key, every step that `opens` a path ("fuel", "exhaust", "coolant", "electric"), every one that fires
    ("firing"), or every one that does after the work ("firing_again"); while a finding is one that it
    `holds` (by reading or step), what it guards waits. `fires`: it starts the burner or needs it running.
    A step that `displaces` something is followed by the one that `puts_back` its key.

    The `only_...` conditions say when it is there: a due part *or* a finding brings a step, and the sheet's
    words and the complaint must fit as well.
    """

    key: str
    phase: Phase
    section: str  # of the visit's card
    minutes: float
    source: str
    required: bool = False
    fires: bool = False
    opens: str = ""  # "", "fuel", "exhaust", "coolant", "electric"
    guards: tuple[str, ...] = ()
    holds: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: _NOTHING)
    displaces: bool = False
    puts_back: str = ""
    tools: tuple[str, ...] = ()  # instrument classes, and tools that have a text `tool.<key>`
    needs: tuple[str, ...] = ()  # instrument classes of which the shop must own one
    cautions: tuple[str, ...] = ()
    readings: tuple[StepReading, ...] = ()
    states: tuple[str, ...] = ()  # what is tapped where no reading says it; the first is the good one
    grouped: bool = False  # one tap may give it its first state with others; a part: if a spare is aboard
    photo: Photo = Photo.NONE
    photo_of: str = ""  # the step whose photograph before belongs beside this one's after; "" for its own
    timer: Timer = Timer.NONE
    part: str = ""  # key of the part type that it renews, records or carries
    only_if_due: bool = False
    only_findings: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: _NOTHING)
    only_complaint: tuple[str, ...] = ()
    only_sheet: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: _NOTHING)
    words: Mapping[str, str] = field(default_factory=lambda: _NO_WORDS)  # of a shop's own step

    @property
    def needs_own_answer(self) -> bool:
        """Whether no answer given together with others may take it.

        So with what carries safety (nobody may leave it out, something waits for it, or the burner runs),
        with what asks a reading or a photograph or is timed, and with what has states of which none is usual.
        """
        carries_safety = bool(self.required or self.guards or self.holds or self.fires)
        asks = bool(self.readings) or self.photo is not Photo.NONE or self.timer is not Timer.NONE
        return carries_safety or asks or (bool(self.states) and not self.grouped)

    def is_guard_of(self, other: ProcedureStep) -> bool:
        """Whether the other step may only come after this one."""
        firing = other.fires and (
            FIRING in self.guards or (FIRING_AGAIN in self.guards and other.phase in FIRED_AGAIN)
        )
        return firing or other.key in self.guards or other.opens in self.guards


@dataclass(frozen=True, slots=True, kw_only=True)
class Procedure:
    """A procedure as the shelf holds it: steps in order. Its words: `procedure.<key>.title` and `.why`.

    `stops` are findings (reading to states) that hold every firing, as the limits table has them.
    `proves_first`: the burner is fired before anything is opened.
    """

    key: str
    version: str
    sha256: str
    proves_first: bool
    steps: tuple[ProcedureStep, ...]
    stops: Mapping[str, tuple[str, ...]]
    extends: str = ""  # the shipped procedure that a shop's own is made from
    words: Mapping[str, str] = field(default_factory=lambda: _NO_WORDS)

"""The lying flue line as time: one axis that a timeline and the trends below it share."""

from __future__ import annotations

from datetime import UTC, datetime

from lightoff.ground.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeAxis:
    """From `start` to `end` (aware), drawn between `left` and `right` in a picture `width` px wide."""

    start: datetime
    end: datetime
    width: float = 720.0
    left: float = 56.0
    right: float = 620.0

    def __post_init__(self) -> None:
        if self.end <= self.start:
            raise ValueError("a time axis must end after it starts")

    def at(self, when: datetime) -> float:
        """Where a moment lies, in px."""
        share = (when - self.start) / (self.end - self.start)
        return self.left + (self.right - self.left) * min(1.0, max(0.0, share))

    def years(self) -> list[tuple[int, float]]:
        """Each new year on the axis, and where."""
        turns = [datetime(year, 1, 1, tzinfo=UTC) for year in range(self.start.year, self.end.year + 2)]
        return [(turn.year, self.at(turn)) for turn in turns if self.start <= turn <= self.end]

    def quarters(self) -> list[float]:
        """Where the quarters of the years begin, new years left out."""
        turns = [
            datetime(year, month, 1, tzinfo=UTC)
            for year in range(self.start.year, self.end.year + 1)
            for month in (4, 7, 10)
        ]
        return [self.at(turn) for turn in turns if self.start <= turn <= self.end]

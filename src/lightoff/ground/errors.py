"""Every error the house raises on purpose.

LightoffError
+-- Refusal          the input cannot be: what, value, what is possible, what to do
|   +-- Refusals     several at once, for a file or a form
|   +-- Doubtful     it may be, and is kept where somebody says so
+-- Declined         outside the range that a relation was tested for
+-- WouldOverwrite   an entry that stands already with another body
+-- NotFound         no such thing in the book or on the shelf
+-- BookTrouble      the disk or the database cannot, now (`lightoff.records.trouble`)
"""

from __future__ import annotations

from lightoff.ground.message import Message, message


class LightoffError(Exception):
    """Base of all errors raised on purpose; carries a Message that a face can say."""

    def __init__(self, said: Message) -> None:
        super().__init__(said.key, dict(said.values))
        self.message = said


class Refusal(LightoffError):
    """The input cannot be. `field` marks the box, `message` says what, value, possible and cure."""

    def __init__(self, said: Message, *, field: str | None = None) -> None:
        super().__init__(said)
        self.field = field


class Refusals(Refusal):
    """All refusals of one file or form, told at once."""

    def __init__(self, refusals: tuple[Refusal, ...]) -> None:
        super().__init__(message("error.several", count=len(refusals)))
        self.refusals = refusals


class Doubtful(Refusal):
    """The input is suspicious: it is asked about first, and kept where somebody insists."""


class Declined(LightoffError):
    """The answer would lie outside what the relation's source tested."""


class WouldOverwrite(LightoffError):
    """The same id is kept already with another body."""


class NotFound(LightoffError):
    """No such thing in the book or on the shelf."""

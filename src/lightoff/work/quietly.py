"""Many objects that all stay, made without looking for garbage again and again."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def quietly() -> Iterator[None]:
    """While this lasts nothing is looked through for garbage: a third of the time for a million objects."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()

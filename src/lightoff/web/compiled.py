"""Templates compiled once and kept where Python keeps its own compiled modules."""

from __future__ import annotations

import os
import sys
import tempfile
from contextlib import suppress
from importlib.util import cache_from_source
from pathlib import Path
from pickle import UnpicklingError

from jinja2.bccache import Bucket, BytecodeCache


class CompiledTemplates(BytecodeCache):
    """Compiled templates in `__pycache__` beside their sources, or nowhere where that cannot be written."""

    def __init__(self, templates: Path) -> None:
        self._templates = templates

    def load_bytecode(self, bucket: Bucket) -> None:
        """Fill the bucket with what is kept; it checks by itself whether the source is still the same."""
        with suppress(OSError, EOFError, UnpicklingError), self._place(bucket).open("rb") as kept:
            bucket.load_bytecode(kept)

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep the bucket, whole or not at all."""
        if sys.dont_write_bytecode:
            return
        place = self._place(bucket)
        with suppress(OSError):
            place.parent.mkdir(parents=True, exist_ok=True)
            with tempfile.NamedTemporaryFile(dir=place.parent, delete=False) as made:
                bucket.write_bytecode(made)
            os.replace(made.name, place)

    def _place(self, bucket: Bucket) -> Path:
        return Path(cache_from_source(str(self._templates / f"{bucket.key}.py")))

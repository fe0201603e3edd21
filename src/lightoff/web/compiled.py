"""Templates compiled once and kept where Python keeps its own modules; they escape once and call plainly."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Callable
from contextlib import suppress
from functools import lru_cache
from importlib.util import cache_from_source
from pathlib import Path
from pickle import UnpicklingError
from typing import Any

from jinja2 import Environment
from jinja2.bccache import Bucket, BytecodeCache
from jinja2.compiler import CodeGenerator
from jinja2.nodes import EvalContext, Expr
from jinja2.runtime import Context
from markupsafe import Markup, escape

_COMPILED_BY = "1"  # another number where `_Compiler` writes other code: what is kept was compiled by another
_escaped = lru_cache(maxsize=8192)(escape)  # the same words stand in every field of a card


def written(value: object) -> str:
    """A value as it stands on a page, escaped unless it is markup already.

    A card shows some sixteen hundred; `escape` makes each anew, markup too.
    """
    if type(value) is Markup:
        return value
    return _escaped(value) if type(value) is str else escape(value)


class _Compiler(CodeGenerator):
    def _output_child_pre(self, node: Expr, frame: Any, finalize: Any) -> None:
        context: EvalContext = frame.eval_ctx
        if context.volatile or not context.autoescape or finalize.src is not None:
            super()._output_child_pre(node, frame, finalize)
        else:
            self.write("environment.written(")


class _Plainly(Context):
    """A context that puts nothing before the arguments: no function of ours asks for it.

    A card makes some five hundred calls; to ask each function what it wants took longer than most of them.
    """

    def call(self, called: Callable[..., Any], /, *given: Any, **named: Any) -> Any:
        named.pop("_block_vars", None)
        named.pop("_loop_vars", None)
        return called(*given, **named)


class Templates(Environment):
    """An environment whose templates escape what they show by `written`, and call plainly."""

    code_generator_class = _Compiler
    context_class = _Plainly
    written = staticmethod(written)


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
        return Path(cache_from_source(str(self._templates / f"{bucket.key}-{_COMPILED_BY}.py")))

"""From content to PDF through the typesetter: data travels as JSON, never as source text."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from functools import lru_cache
from importlib.resources import as_file, files
from threading import Lock
from typing import TYPE_CHECKING, Any

from lightoff.report.letters import printable

if TYPE_CHECKING:
    import typst

# One compiler keeps its fonts and memory; it works for one caller at a time.
_one_at_a_time = Lock()


def typeset(
    content: Mapping[str, Any],
    *,
    paper: str,
    language: str,
    made_at: datetime,
    attachment: bytes | None = None,
    template: str = "owner.typ",
) -> bytes:
    """The pages of a template as PDF/A-3a and PDF/UA-1.

    Letters that no bundled typeface has print as "?", and say so.
    """
    cleaned, lost = printable(dict(content))
    data = {
        **cleaned,
        "paper": paper,
        "language": language,
        "letters_lost": lost,
        "attachment": _attached(attachment) if attachment is not None else None,
    }
    with _one_at_a_time:
        pdf = _compiler().compile(
            _template(template),
            format="pdf",
            sys_inputs={"content": json.dumps(data, ensure_ascii=False)},
            pdf_standards=["a-3a", "ua-1"],
            timestamp=made_at.replace(microsecond=0),  # typst takes whole seconds
        )
    assert isinstance(pdf, bytes)
    return pdf


def _attached(visit_file: bytes) -> dict[str, str]:
    """The visit file under the name and media type of its form."""
    text = visit_file.decode("utf-8")
    form = "json" if text.lstrip().startswith("{") else "toml"
    return {"name": f"visit.{form}", "media-type": f"application/{form}", "text": text}


@lru_cache(maxsize=1)
def _compiler() -> typst.Compiler:
    import typst  # heavy: only when the first report is made

    room = files("lightoff.report")
    with as_file(room / "fonts") as fonts:
        return typst.Compiler(
            root=fonts,  # the template reads no files
            font_paths=typst.Fonts(
                include_system_fonts=False, include_embedded_fonts=False, font_paths=[fonts]
            ),
        )


@lru_cache(maxsize=4)
def _template(name: str) -> bytes:
    return (files("lightoff.report") / name).read_bytes()

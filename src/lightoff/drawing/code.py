"""A QR code as SVG: an address that a telephone's own camera reads off a label.

The library segno draws it, as ISO/IEC 18004 has it; the standard was not read here.
"""

from __future__ import annotations

import io

CORRECTION = "m"
"""The level that still reads with some 15 % of it gone: in an engine bay labels get dirty. Judgement."""
QUIET_MODULES = 4
"""The blank edge that a reader needs, in modules: as the standard has it."""


def code(address: str, *, title: str) -> str:
    """The code of an address as one SVG, black on white whatever the page looks like; `title` names it.

    Raises ValueError for an address longer than a code can hold (some 2,300 characters).
    """
    import segno  # only this page needs it

    made = segno.make(address, error=CORRECTION, micro=False, boost_error=False)
    written = io.BytesIO()
    made.save(
        written,
        kind="svg",
        border=QUIET_MODULES,
        dark="#000",
        light="#fff",
        title=title,
        xmldecl=False,
        svgns=True,
        omitsize=True,
        nl=False,
    )
    return written.getvalue().decode()

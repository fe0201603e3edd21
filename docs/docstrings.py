"""From a plain docstring to what the handbook's builder reads: sections apart, parameters as a list."""

import re
from collections.abc import Sequence

SECTION = re.compile(r"^(Parameters|Returns|Raises|Valid for|Basis)\b")


def laid_out(lines: Sequence[str]) -> list[str]:
    """The docstring's lines, with each section a paragraph and each indented entry a point of a list."""
    found: list[str] = []
    in_list = False
    for line in lines:
        text, depth = line.strip(), len(line) - len(line.lstrip())
        if text.startswith((">>>", "...")) or (found and found[-1].startswith(">>>")):
            found.append(text)
        elif not text:
            found.append("")
            in_list = False
        elif depth == 0:
            if SECTION.match(text) or in_list:
                found.append("")
            found.append(text)
            in_list = False
        elif depth <= 4:
            found += ([] if in_list else [""]) + [f"* {text}"]
            in_list = True
        else:
            found.append(f"  {text}" if in_list else text)
    return found

"""Every sentence that the code asks for exists, and says all that it is given."""

import ast
import re
from pathlib import Path

import pytest

from lightoff.texts.speaker import templates

SOURCE = Path(__file__).parents[2] / "src" / "lightoff"
KEY = re.compile(r"^@?[a-z_]+\.[A-Za-z0-9_ -]+$")


def messages() -> list[tuple[str, int, str, set[str]]]:
    """(file, line, key, names of its values) of every `message("...")` and `.text("...")` of a plain key."""
    found = []
    for path in sorted(SOURCE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call) or not node.args:
                continue
            name = getattr(node.func, "id", getattr(node.func, "attr", ""))
            first = node.args[0]
            key = first.value if isinstance(first, ast.Constant) and isinstance(first.value, str) else ""
            if name in ("message", "text") and KEY.match(key):
                values = {each.arg for each in node.keywords if each.arg}
                spread = any(each.arg is None for each in node.keywords)
                found.append((path.name, node.lineno, key, {"*"} if spread else values))
    return found


def test_there_are_messages_to_check() -> None:
    assert len(messages()) > 100


@pytest.mark.parametrize("each", messages(), ids=lambda each: f"{each[0]}:{each[1]}:{each[2]}")
def test_every_message_has_its_text(each: tuple[str, int, str, set[str]]) -> None:
    _, _, key, values = each
    assert key in templates("en")
    asked = set(re.findall(r"\{([a-z0-9_]+)\}", templates("en")[key]))
    assert values == {"*"} or asked <= values

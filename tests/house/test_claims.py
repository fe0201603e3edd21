"""What the words say can be done: each command, option and file that a text names is there."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from lightoff.cli import main
from lightoff.judging.verdict import GATES

TEXTS = ("README.md", "CHANGELOG.md", "CONTRIBUTING.md", "ARCHITECTURE.md")
ROOMS = "|".join(("benchmarks", "docs", "examples", "src", "tests", "tools", r"\.ci"))
PATH = re.compile(rf"(?<![\w/.])((?:{ROOMS})/[\w./-]*\w|dev\.py|requirements[\w-]*\.lock|pyproject\.toml)")
LINK = re.compile(r"\]\(([^)#:]+)(?:#[^)]*)?\)")
# An example of a call stands in code: between backticks, in a fence, or set in by four blanks.
CODE = re.compile(r"```[\w-]*\n(.*?)```|`([^`\n]+)`|^ {4}(\S.*)$", flags=re.DOTALL | re.MULTILINE)
CALL = re.compile(r"(?:^|[\s;:,(])(lightoff|python3 dev\.py)(?: +([a-z][\w-]*))?((?: +[^`\n#;]*)?)")
OPTION = re.compile(r"(?<!\S)(--[a-z][\w-]*|-[a-z])\b")
MADE = {"docs/_build", "docs/_generated"}  # by a command, and kept out of git


def texts(root: Path) -> dict[str, str]:
    """Name and text of what people read: the texts at the top and every page of the handbook."""
    files = [*(root / name for name in TEXTS), *sorted((root / "docs").glob("*.md"))]
    return {path.relative_to(root).as_posix(): path.read_text(encoding="utf-8") for path in files}


def calls(text: str) -> Iterator[tuple[str, str, list[str]]]:
    """Program, command and options of every call in a text's code."""
    for found in CODE.finditer(text):
        code = next(part for part in found.groups() if part is not None)
        for line in code.splitlines():
            for program, command, rest in CALL.findall(line):
                yield program, command, OPTION.findall(rest)


def dev_commands(root: Path) -> dict[str, set[str]]:
    """Each command of `dev.py` with its options, read from its text: it may be run by any Python."""
    tree = ast.parse((root / "dev.py").read_text(encoding="utf-8"))
    names = {
        entry.elts[0].value
        for node in ast.walk(tree)
        if isinstance(node, ast.For) and isinstance(node.iter, ast.Tuple)
        for entry in node.iter.elts
        if isinstance(entry, ast.Tuple) and len(entry.elts) == 3 and isinstance(entry.elts[0], ast.Constant)
    }
    options = {str(name): {"--wheels"} if name in ("run", "test", "docs") else set() for name in names}
    options["test"] |= {"--fast"}
    options["wheels"] |= {"--test"}
    return options


def lightoff_options(command: str) -> set[str]:
    parameters = main.commands[command].params
    return {name for each in parameters for name in (*each.opts, *each.secondary_opts)} | {"--help"}


@pytest.fixture(scope="module")
def pages(root: Path) -> dict[str, str]:
    return texts(root)


def test_the_walk_finds_calls(pages: dict[str, str]) -> None:
    found = {(program, command) for text in pages.values() for program, command, _ in calls(text)}
    assert {("python3 dev.py", "run"), ("python3 dev.py", "test"), ("lightoff", "demo")} <= found
    assert ("lightoff", "assess") in found


def test_every_command_that_a_text_calls_is_there_with_its_options(root: Path, pages: dict[str, str]) -> None:
    dev = dev_commands(root)
    assert {"run", "test", "docs", "wheels", "lock"} <= dev.keys()
    wrong = []
    for name, text in pages.items():
        for program, command, options in calls(text):
            if program == "lightoff":
                if not command:
                    continue
                known = lightoff_options(command) if command in main.commands else None
            else:
                known = dev.get(command)
                if command == "run":  # hands on what it does not know
                    known = (known or set()) | lightoff_options("demo")
            if known is None or not set(options) <= known:
                wrong.append(f"{name}: {program} {command} {' '.join(options)}")
    assert not wrong


def test_every_file_that_a_text_names_is_there(root: Path, pages: dict[str, str]) -> None:
    missing = []
    for name, text in pages.items():
        told = {path.rstrip(".") for path in PATH.findall(text)}
        linked = {((root / name).parent / link).resolve() for link in LINK.findall(text)}
        missing += [
            f"{name}: {path}"
            for path in told
            if not any(path.startswith(made) for made in MADE) and not (root / path).exists()
        ]
        missing += [f"{name}: {link}" for link in linked if not link.exists()]
    assert not missing


def test_a_text_that_counts_the_gates_counts_right(pages: dict[str, str]) -> None:
    numbers = {"twenty-one": 21, "twenty-two": 22, "twenty-three": 23, "twenty-four": 24, "twenty-five": 25}
    told = [numbers[word] for text in pages.values() for word in re.findall(r"\b(twenty-\w+) gates\b", text)]
    assert told
    assert set(told) == {len(GATES)}

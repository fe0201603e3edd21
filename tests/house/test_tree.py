"""What no file of the project may hold, and how long a module may grow."""

import re
from pathlib import Path

import pytest

# Put together here, so that this file does not hold what it looks for.
INDEX_HOSTS = ("pypi" + ".org", "files.pythonhosted" + ".org", "registry.npmjs" + ".org", "npmjs" + ".com")
INDEX_OPTIONS = ("--index" + "-url", "--extra-index" + "-url", "--find" + "-links ")
MACHINE_PATHS = re.compile("/" + r"(?:work|root|home/\w+|Users/\w+|tmp)/\w")
# Machines of somebody's own network: private addresses, names that no public server answers to.
PRIVATE_HOSTS = re.compile(
    r"\b(?:10\.\d{1,3}|192\.168|172\.(?:1[6-9]|2\d|3[01]))\.\d{1,3}\.\d{1,3}\b"
    r"|\b[\w-]+\.(?:internal|intranet|corp|lan|localdomain)\b"
    r"|\bfile:" + r"//"
)
LONGEST_MODULE = 600
VENDORED = ("src/lightoff/web/static/vendor/", "src/lightoff/report/fonts/", "tests/vendor/")


def text_of(path: Path) -> str:
    """The file's text; a picture or a font has none."""
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        return ""


@pytest.fixture(scope="session")
def own_texts(root: Path, project_files: list[Path]) -> dict[str, str]:
    """Path and text of every file that is ours."""
    names = {path.relative_to(root).as_posix(): path for path in project_files}
    return {name: text_of(path) for name, path in names.items() if not name.startswith(VENDORED)}


def test_the_walk_sees_the_project(own_texts: dict[str, str]) -> None:
    assert {"dev.py", "requirements.lock", "src/lightoff/ground/units.py"} <= own_texts.keys()


def test_no_file_names_a_package_index(root: Path, project_files: list[Path]) -> None:
    found = [
        f"{path.relative_to(root)}: {host}"
        for path in project_files
        for host in INDEX_HOSTS
        if host in text_of(path)
    ]
    assert not found


def test_no_lock_holds_an_address(own_texts: dict[str, str]) -> None:
    locks = {name: text for name, text in own_texts.items() if name.endswith(".lock")}
    assert len(locks) == 3
    for name, text in locks.items():
        assert "://" not in text, name
        assert not any(option in text for option in INDEX_OPTIONS), name


def test_every_locked_package_has_hashes(own_texts: dict[str, str]) -> None:
    for name in ("requirements.lock", "requirements-test.lock", "requirements-uv.lock"):
        entries = re.split(r"\n(?=[a-z0-9])", own_texts[name])
        bare = [entry.split("\n")[0] for entry in entries if "--hash=sha256:" not in entry]
        assert not bare, f"{name}: {bare}"


def test_both_locks_hold_the_same_versions(own_texts: dict[str, str]) -> None:
    def pins(name: str) -> set[str]:
        return set(re.findall(r"^([a-z0-9.-]+==\S+)", own_texts[name], flags=re.MULTILINE))

    assert pins("requirements.lock")
    assert pins("requirements.lock") <= pins("requirements-test.lock")


def test_no_file_knows_the_machine_it_was_written_on(own_texts: dict[str, str]) -> None:
    found = [
        f"{name}: {match.group()}"
        for name, text in own_texts.items()
        for match in MACHINE_PATHS.finditer(text)
    ]
    assert not found


def test_no_file_names_a_host_of_somebodys_own(own_texts: dict[str, str]) -> None:
    assert PRIVATE_HOSTS.search("build-7" + ".internal")
    assert PRIVATE_HOSTS.search("http://192" + ".168.1.20:8000/")
    found = [
        f"{name}: {match.group()}"
        for name, text in own_texts.items()
        for match in PRIVATE_HOSTS.finditer(text)
    ]
    assert not found


def test_no_module_is_too_long(own_texts: dict[str, str]) -> None:
    modules = {name: text for name, text in own_texts.items() if name.endswith(".py")}
    lengths = {name: text.count("\n") for name, text in modules.items() if not name.startswith("tests/")}
    too_long = {name: lines for name, lines in lengths.items() if lines > LONGEST_MODULE}
    assert not too_long, "split these where a noun is missing"


def test_no_catch_all_module(own_texts: dict[str, str]) -> None:
    homeless = {"utils.py", "helpers.py", "common.py", "misc.py"}
    assert not [name for name in own_texts if name.rsplit("/", 1)[-1] in homeless]

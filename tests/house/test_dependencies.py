"""A dependency is used and named in the picture of the house, or it does not stand in pyproject.toml."""

import re
import tomllib
from pathlib import Path

import pytest

# What is used without being imported, and the sign of its use: file and words.
CALLED_BY_NAME = {
    "python-multipart": ("src/lightoff/web/forms.py", "request.form("),
    "tzdata": ("src/lightoff/web/preferences.py", "ZoneInfo"),
    "psycopg": ("src/lightoff/records/trouble.py", "sqlstate"),
    "hatchling": ("pyproject.toml", 'build-backend = "hatchling.build"'),
    "editables": ("dev.py", '"--editable"'),
    "sphinx": ("dev.py", "sphinx-build"),
    "furo": ("docs/conf.py", 'html_theme = "furo"'),
    "myst-parser": ("docs/conf.py", '"myst_parser"'),
    "httpx2": ("tests/web/conftest.py", "TestClient"),
    "import-linter": ("dev.py", "lint-imports"),
    "mypy": ("dev.py", '"mypy"'),
    "pytest-xdist": ("dev.py", '"--numprocesses"'),
    "ruff": ("dev.py", '"ruff"'),
    "uv": ("dev.py", '"uv"'),
}
IMPORTED_AS = {"pillow": "PIL"}


def dependencies(root: Path) -> list[str]:
    """Name of every package that pyproject.toml asks for."""
    project = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))
    groups = project["dependency-groups"].values()
    asked = [
        *project["project"]["dependencies"],
        *(each for extra in project["project"]["optional-dependencies"].values() for each in extra),
        *(each for group in groups for each in group if isinstance(each, str)),
    ]
    return sorted({re.match(r"[\w.-]+", each).group().lower() for each in asked})  # type: ignore[union-attr]


@pytest.fixture(scope="session")
def modules(project_files: list[Path]) -> str:
    return "\n".join(path.read_text(encoding="utf-8") for path in project_files if path.suffix == ".py")


def test_every_dependency_is_used(root: Path, modules: str) -> None:
    asked = dependencies(root)
    assert {"numpy", "pytest", "uv"} <= set(asked)
    unused = []
    for name in asked:
        file, words = CALLED_BY_NAME.get(name, ("", ""))
        module = IMPORTED_AS.get(name, name)
        imported = re.search(rf"^\s*(?:import|from) {module}\b", modules, flags=re.MULTILINE)
        if not (words in (root / file).read_text(encoding="utf-8") if file else imported):
            unused.append(name)
    assert not unused


def test_every_dependency_is_named_in_the_picture_of_the_house(root: Path) -> None:
    picture = (root / "ARCHITECTURE.md").read_text(encoding="utf-8").lower()
    assert not [name for name in dependencies(root) if not re.search(rf"\b{name}\b", picture)]


def test_the_picture_names_no_dependency_that_is_gone(root: Path) -> None:
    picture = (root / "ARCHITECTURE.md").read_text(encoding="utf-8")
    table = picture.split("| package | for | because |")[1].split("\n\n")[0]
    named = set(re.findall(r"[a-z][\w-]+", " ".join(re.findall(r"^\| ([^|(]+)", table, flags=re.MULTILINE))))
    assert named - {"---"} <= set(dependencies(root))


def test_the_picture_has_every_room_on_the_floor_where_the_layers_put_it(root: Path) -> None:
    picture = (root / "ARCHITECTURE.md").read_text(encoding="utf-8").split("```")[1]
    contracts = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"]
    layers = next(each["layers"] for each in contracts["contracts"] if each["type"] == "layers")
    floor = {room.strip(): depth for depth, layer in enumerate(layers) for room in layer.split("|")}
    drawn = [room for room in re.findall(r"\b(\w+)/", picture) if room in floor]
    assert set(drawn) == set(floor)
    # The words stand last: only faces and drawings import them.
    assert [floor[room] for room in drawn if room != "texts"] == sorted(
        floor[room] for room in drawn if room != "texts"
    )


def test_the_tree_of_errors_is_whole(root: Path) -> None:
    """Every error raised on purpose stands in the tree that `ground/errors.py` begins with."""
    errors = {
        name
        for path in (root / "src" / "lightoff").rglob("*.py")
        for name in re.findall(
            r"^class (\w+)\((?:LightoffError|Refusal|Refusals)\):",
            path.read_text(encoding="utf-8"),
            flags=re.MULTILINE,
        )
    }
    head = (root / "src" / "lightoff" / "ground" / "errors.py").read_text(encoding="utf-8").split('"""')[1]
    assert set(re.findall(r"\+-- (\w+)", head)) == errors

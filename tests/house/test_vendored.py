"""What we carry along from others is what its manifest says, with its licence beside it."""

import hashlib
import tomllib
from pathlib import Path

import pytest

MANIFESTS = (
    "src/lightoff/web/static/vendor/manifest.toml",
    "src/lightoff/report/fonts/manifest.toml",
    "tests/vendor/manifest.toml",
)


@pytest.mark.parametrize("name", MANIFESTS)
def test_every_file_is_in_the_manifest_and_has_its_hash(root: Path, name: str) -> None:
    folder = (root / name).parent
    rows = tomllib.loads((root / name).read_text(encoding="utf-8"))["file"]
    hashes = {row["file"]: row["sha256"] for row in rows}
    assert len(hashes) == len(rows), "a file stands twice"
    present = {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file() and path.name not in ("manifest.toml", "__init__.py") and path.suffix != ".pyc"
    }
    assert present == hashes


@pytest.mark.parametrize("name", MANIFESTS)
def test_every_vendored_thing_has_version_origin_and_licence_text(root: Path, name: str) -> None:
    rows = tomllib.loads((root / name).read_text(encoding="utf-8"))["file"]
    for row in rows:
        assert row["version"]
        assert row["licence"] in {"OFL-1.1", "0BSD", "ISC", "MPL-2.0"}
        assert row["from"]
        assert "://" not in row["from"]
    named = {row["name"] for row in rows}
    assert named == {row["name"] for row in rows if "LICENSE" in row["file"]}

"""The files of the project as they would be committed."""

import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="session")
def root() -> Path:
    return ROOT


@pytest.fixture(scope="session")
def project_files() -> list[Path]:
    """Every file that git keeps or would keep."""
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        check=True,
    )
    paths = [ROOT / name for name in listed.stdout.decode().split("\0") if name]
    return [path for path in paths if path.is_file()]

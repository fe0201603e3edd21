"""The set-up script: what it says when it cannot go on, and when it has nothing to do."""

import argparse
import ast
import errno
import importlib.util
import os
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture
def dev(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """The script as a module, at home in an empty folder with locks of its own."""
    spec = importlib.util.spec_from_file_location("dev", ROOT / "dev.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    monkeypatch.setattr(module, "ROOT", tmp_path)
    monkeypatch.setattr(module, "VENV", tmp_path / ".venv")
    for name in (*module.LOCKS.values(), "pyproject.toml"):
        (tmp_path / name).write_text(name, encoding="utf-8")
    (tmp_path / ".venv").mkdir()
    return module


@pytest.fixture
def pip_calls(dev: ModuleType, monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """What would have been installed."""
    calls: list[list[str]] = []
    monkeypatch.setattr(dev, "make_venv", lambda: None)
    monkeypatch.setattr(dev, "pip", lambda arguments, options, *, what: calls.append(arguments))
    return calls


RUN = argparse.Namespace(command="run", wheels=None)


# What it is made of


def test_an_old_python_can_read_the_script() -> None:
    ast.parse((ROOT / "dev.py").read_text(encoding="utf-8"), feature_version=(3, 6))


def test_the_standard_library_is_enough() -> None:
    module = ast.parse((ROOT / "dev.py").read_text(encoding="utf-8"))
    imported = set()
    for node in ast.walk(module):
        if isinstance(node, ast.Import):
            imported |= {alias.name.partition(".")[0] for alias in node.names}
        if isinstance(node, ast.ImportFrom):
            imported.add(str(node.module).partition(".")[0])
    assert imported
    assert imported <= sys.stdlib_module_names


def test_an_old_python_gets_a_sentence() -> None:
    script = (
        "import sys; sys.version_info = (3, 9, 2, 'final', 0); "
        "exec(compile(open('dev.py', encoding='utf-8').read(), 'dev.py', 'exec'))"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 1
    assert done.stderr.startswith("lightoff needs Python 3.11 or newer; this is Python 3.9 (")
    assert "python3.12 dev.py run" in done.stderr
    assert "Traceback" not in done.stderr


# What it says


def test_a_missing_module_of_the_system_names_its_package(
    dev: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(dev, "missing_module", lambda: "ensurepip")
    with pytest.raises(
        dev.Refused, match=r"its ensurepip module is missing.*sudo apt-get install python3-venv"
    ):
        dev.make_venv()


def test_which_module_is_missing(dev: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    assert dev.missing_module() is None
    monkeypatch.setattr(
        importlib.util, "find_spec", lambda name: None if name == "ensurepip" else importlib.machinery
    )
    assert dev.missing_module() == "ensurepip"


@pytest.mark.parametrize(
    ("log", "sentence"),
    [
        (
            "WARNING: Retrying: NewConnectionError('...')\nERROR: No matching distribution found for alembic",
            "no answer from the network. Connect and run the same command again",
        ),
        (
            "ERROR: Could not install: [Errno 28] No space left on device",
            "The disk is full: python3 dev.py run",
        ),
        ("ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE.", "its hash differs"),
        ("ERROR: No matching distribution found for numpy==2.4.6", "no ready-made wheel for this machine"),
        ("first\nERROR: something else", "The last lines of the installer:\nfirst\nERROR: something else"),
    ],
)
def test_the_installers_words_become_ours(dev: ModuleType, log: str, sentence: str) -> None:
    assert sentence in dev.explain(log, command="run")


def test_a_folder_without_the_wheel_is_named(dev: ModuleType) -> None:
    sentence = dev.explain(
        "ERROR: No matching distribution found for numpy", command="run", folder=Path("van-wheels")
    )
    assert "in van-wheels." in sentence
    assert "fill the folder with this same Python" in sentence


def test_a_missing_folder_of_wheels_is_named(dev: ModuleType, pip_calls: list[list[str]]) -> None:
    options = argparse.Namespace(command="run", wheels=Path("on-a-stick", "no-such-folder"))
    with pytest.raises(dev.Refused) as refused:
        dev.set_up("run", options)
    there = options.wheels
    assert str(refused.value) == f"There is no folder {there}. Fill one with: python3 dev.py wheels {there}"
    assert pip_calls == []


def test_a_full_disk_is_a_sentence_wherever_it_strikes(
    dev: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def full(kind: str, options: argparse.Namespace) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(dev, "set_up", full)
    assert dev.main(["run"]) == 1
    assert "The disk is full" in capsys.readouterr().err


def test_an_interruption_says_how_to_go_on(
    dev: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def interrupted(kind: str, options: argparse.Namespace) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(dev, "set_up", interrupted)
    assert dev.main(["run"]) == 130
    assert capsys.readouterr().err == "\nStopped. Run the same command again to go on.\n"


# The stamp


def test_the_second_start_has_nothing_to_do(dev: ModuleType, pip_calls: list[list[str]]) -> None:
    dev.set_up("run", RUN)
    assert len(pip_calls) == 2
    assert "--require-hashes" in pip_calls[0]
    assert pip_calls[0][-1].endswith("requirements.lock")
    dev.set_up("run", RUN)
    assert len(pip_calls) == 2


@pytest.mark.parametrize("changed", ["requirements.lock", "pyproject.toml"])
def test_a_change_of_what_is_needed_sets_up_again(
    dev: ModuleType, pip_calls: list[list[str]], changed: str
) -> None:
    dev.set_up("run", RUN)
    (dev.ROOT / changed).write_text("another", encoding="utf-8")
    dev.set_up("run", RUN)
    assert len(pip_calls) == 4


def test_another_python_or_another_folder_is_another_environment(
    dev: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    here = dev.fingerprint("run")
    with monkeypatch.context() as patch:
        patch.setattr(sys, "version", "3.99.0 (another)")
        assert dev.fingerprint("run") != here
    assert dev.fingerprint("run") == here
    (tmp_path / "moved").mkdir()
    for name in ("requirements.lock", "pyproject.toml"):
        (tmp_path / "moved" / name).write_text(name, encoding="utf-8")
    monkeypatch.setattr(dev, "ROOT", tmp_path / "moved")
    assert dev.fingerprint("run") != here


def test_the_tests_have_a_stamp_of_their_own(dev: ModuleType, pip_calls: list[list[str]]) -> None:
    dev.set_up("run", RUN)
    dev.set_up("test", RUN)
    assert len(pip_calls) == 4
    assert pip_calls[2][-1].endswith("requirements-test.lock")


def test_a_set_up_that_failed_leaves_no_stamp(
    dev: ModuleType, pip_calls: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    dev.set_up("run", RUN)
    (dev.ROOT / "requirements.lock").write_text("another", encoding="utf-8")

    def fails(arguments: list[str], options: argparse.Namespace, *, what: str) -> None:
        raise dev.Refused("no network")

    monkeypatch.setattr(dev, "pip", fails)
    with pytest.raises(dev.Refused):
        dev.set_up("run", RUN)
    assert not (dev.VENV / "stamp-run").exists()


# The browser


@pytest.fixture
def parts_run(
    dev: ModuleType, pip_calls: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> list[list[str]]:
    """The commands of `dev.py test`, none of them run, on a machine without a browser."""
    commands: list[list[str]] = []

    def call(command: list[str], **_: object) -> int:
        commands.append(command)
        return 0

    monkeypatch.setattr(dev.subprocess, "call", call)
    monkeypatch.setattr(dev, "find_browser", lambda: None)
    monkeypatch.setattr(dev, "install_browser", lambda: None)
    monkeypatch.delenv("CI", raising=False)
    return commands


def test_without_a_browser_its_tests_are_left_out_and_that_is_said(
    dev: ModuleType, parts_run: list[list[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    assert dev.main(["test", "-q"]) == 0
    assert parts_run[-1][1:] == [*dev.AT_ONCE, "-m", "not browser", "-q"]
    assert "the browser tests are left out" in capsys.readouterr().err


def test_in_ci_a_missing_browser_is_a_failure(
    dev: ModuleType,
    parts_run: list[list[str]],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("CI", "true")
    assert dev.main(["test"]) == 1
    assert parts_run == []
    assert "under CI=true that is a failure" in capsys.readouterr().err


def test_every_part_runs_and_the_worst_decides(
    dev: ModuleType,
    parts_run: list[list[str]],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def call(command: list[str], **_: object) -> int:
        parts_run.append(command)
        return 1 if "mypy" in command[0] else 0

    monkeypatch.setattr(dev.subprocess, "call", call)
    assert dev.main(["test", "--fast"]) == 1
    programs = [Path(command[0]).stem for command in parts_run]
    assert programs == ["ruff", "ruff", "mypy", "lint-imports", "pytest"]
    assert parts_run[-1][1:] == [*dev.AT_ONCE, "-m", "not slow and not browser"]
    assert "Failed: types." in capsys.readouterr().err


def test_a_browser_named_by_hand_must_exist(dev: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LIGHTOFF_CHROMIUM", "no-such-browser")
    with pytest.raises(
        dev.Refused, match="LIGHTOFF_CHROMIUM names no-such-browser, and there is no such file"
    ):
        dev.find_browser()

"""Set-up for lightoff, with nothing but Python: run it, test it, build its handbook.

    python3 dev.py run [--port 8000 ...]     set up, then serve the demo shop
    python3 dev.py test [--fast] [...]       set up, then run every check and test
    python3 dev.py docs                      build the handbook into docs/_build/html
    python3 dev.py wheels FOLDER [--test]    fill a folder for a van without internet
    python3 dev.py lock                      remake the lock files

`--wheels FOLDER` (run, test, docs) installs from such a folder and asks no network.
Everything goes into the folder .venv beside this file; the system's Python stays as it is.
"""

import sys

OLDEST_PYTHON = (3, 11)

# This file is read by any Python from 3.6 on, so that an old one gets a sentence and no traceback.
if sys.version_info < OLDEST_PYTHON:
    sys.exit(
        "lightoff needs Python {}.{} or newer; this is Python {}.{} ({}). Install a newer one and start "
        "it by its name, for example: python3.12 dev.py run".format(
            *OLDEST_PYTHON, *sys.version_info[:2], sys.executable
        )
    )

import argparse  # noqa: E402 - nothing newer may be imported before the check
import errno  # noqa: E402
import hashlib  # noqa: E402
import importlib.util  # noqa: E402
import os  # noqa: E402
import platform  # noqa: E402
import shutil  # noqa: E402
import subprocess  # noqa: E402
import time  # noqa: E402
from pathlib import Path  # noqa: E402

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
SCRIPTS = VENV / ("Scripts" if os.name == "nt" else "bin")
EXE = ".exe" if os.name == "nt" else ""
# Tests run on all processors; tests/conftest.py says which of them stay with one worker.
AT_ONCE = ["--numprocesses", "auto", "--maxprocesses", "4"]
LOCKS = {"run": "requirements.lock", "test": "requirements-test.lock", "uv": "requirements-uv.lock"}

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge")
BROWSER_PLACES = (
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "C:/Program Files/Google/Chrome/Application/chrome.exe",
    "C:/Program Files (x86)/Microsoft/Edge/Application/msedge.exe",
)

NO_DISK = (
    "The disk is full: {what} needs about {megabytes} MB in {place}. "
    "Free some room and run the same command again; it goes on where it stopped."
)
NO_VENV = (
    "This Python ({python}) cannot make a virtual environment: its {module} module is missing. "
    "On Debian or Ubuntu: sudo apt-get install python3-venv. Then run the same command again."
)
NO_NETWORK = (
    "The packages could not be fetched: no answer from the network. Connect and run the same command "
    "again, or fill a folder where there is internet (python3 dev.py wheels FOLDER) and bring it here: "
    "python3 dev.py {command} --wheels FOLDER"
)
NO_WHEEL = (
    "A package has no ready-made wheel for this machine ({machine}, Python {version}) {where}. "
    "Use a 64-bit Python {oldest} to 3.14 on Linux, Windows or macOS{refill}."
)
WRONG_HASH = (
    "A package is not the one that the lock file names (its hash differs), so nothing of it was installed. "
    "If the packages come from a folder, fill it anew with: python3 dev.py wheels FOLDER. "
    "If they come from the network, somebody in between changes them: do not go on."
)
NO_BROWSER = (
    "No Chromium, Chrome or Edge was found, so the browser tests are left out. Install one "
    "(Debian or Ubuntu: sudo apt-get install chromium), or name it in LIGHTOFF_CHROMIUM, "
    "and run the same command again."
)


class Refused(Exception):
    """The set-up cannot go on; the sentence says why and what to do."""


def main(argv: list[str] | None = None) -> int:
    """Run one command and return its exit code; every foreseen failure is one sentence."""
    options, rest = parse(sys.argv[1:] if argv is None else argv)
    try:
        return int(options.job(options, rest))
    except Refused as refusal:
        print("\n" + str(refusal), file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nStopped. Run the same command again to go on.", file=sys.stderr)
        return 130
    except OSError as error:
        if error.errno == errno.ENOSPC:
            print("\n" + full_disk("run"), file=sys.stderr)
            return 1
        raise


def parse(argv: list[str]) -> tuple[argparse.Namespace, list[str]]:
    """The command with its own options, and what it hands on."""
    parser = argparse.ArgumentParser(
        prog="dev.py", description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    for name, job, purpose in (
        ("run", run, "set up, then serve the demo shop (further options go to `lightoff demo`)"),
        ("test", test, "set up, then run every check and test (further options go to pytest)"),
        ("docs", docs, "build the handbook into docs/_build/html"),
        ("wheels", wheels, "fill a folder with the locked packages"),
        ("lock", lock, "remake the lock files from pyproject.toml"),
    ):
        command = commands.add_parser(name, help=purpose, description=purpose, allow_abbrev=False)
        command.set_defaults(job=job, command=name)
        if name in ("run", "test", "docs"):
            command.add_argument(
                "--wheels", metavar="FOLDER", type=Path, help="install from this folder only"
            )
        if name == "test":
            command.add_argument("--fast", action="store_true", help="leave out slow and browser tests")
        if name == "wheels":
            command.add_argument("folder", metavar="FOLDER", type=Path)
            command.add_argument("--test", action="store_true", help="also what the tests need")
    options, rest = parser.parse_known_args(argv)
    if rest and options.command not in ("run", "test"):
        parser.error("unknown: " + " ".join(rest))
    return options, rest


# Commands


def run(options: argparse.Namespace, rest: list[str]) -> int:
    """Set up and become `lightoff demo`."""
    set_up("run", options)
    command = [str(SCRIPTS / ("lightoff" + EXE)), "demo", *rest]
    if os.name != "nt":
        sys.stdout.flush()
        os.execv(command[0], command)  # Ctrl-C then reaches the server itself
    process = subprocess.Popen(command)
    while True:
        try:
            return process.wait()
        except KeyboardInterrupt:  # the server got it too and ends by itself
            continue


def test(options: argparse.Namespace, rest: list[str]) -> int:
    """Set up, then style, types, layers and all tests; every part runs, the worst decides."""
    set_up("test", options)
    in_ci = os.environ.get("CI", "").lower() == "true"
    environment = dict(os.environ)
    environment.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1")  # a worker is a thread already
    chosen: list[str] = []
    if options.fast:
        chosen = ["-m", "not slow and not browser"]
    else:
        browser = find_browser() or install_browser()
        if browser:
            environment["LIGHTOFF_CHROMIUM"] = browser
        elif in_ci:
            raise Refused(NO_BROWSER.replace("are left out", "cannot run; under CI=true that is a failure"))
        else:
            print(NO_BROWSER, file=sys.stderr)
            chosen = ["-m", "not browser"]
    parts = [
        ("style", ["ruff", "check"]),
        ("format", ["ruff", "format", "--check"]),
        ("types", ["mypy"]),
        ("layers", ["lint-imports"]),
        ("tests", ["pytest", *AT_ONCE, *chosen, *rest]),
    ]
    failed = []
    for name, command in parts:
        print("\n{}: {}".format(name, " ".join(command)), flush=True)
        code = subprocess.call([str(SCRIPTS / (command[0] + EXE)), *command[1:]], cwd=ROOT, env=environment)
        if code:
            failed.append(name)
    if failed:
        print("\nFailed: {}.".format(", ".join(failed)), file=sys.stderr)
    return 1 if failed else 0


def docs(options: argparse.Namespace, rest: list[str]) -> int:
    """Take the outside checks on record, then build the handbook."""
    set_up("test", options)
    checks = [str(SCRIPTS / ("pytest" + EXE)), "-q", "tests/sources"]
    build = [str(SCRIPTS / ("sphinx-build" + EXE)), "-q", "-W", "--keep-going", "-b", "html"]
    code = subprocess.call(checks, cwd=ROOT)
    code = subprocess.call([*build, "docs", "docs/_build/html"], cwd=ROOT) or code
    print("The handbook: " + str(ROOT / "docs" / "_build" / "html" / "index.html"))
    return code


def wheels(options: argparse.Namespace, rest: list[str]) -> int:
    """Fetch the locked wheels, for this kind of machine and this Python version."""
    make_venv()
    options.folder.mkdir(parents=True, exist_ok=True)
    for kind in ("run", "test") if options.test else ("run",):
        pip(
            ["download", "-d", str(options.folder.resolve()), *locked(kind)],
            options,
            what="Fetching the packages",
        )
    print(
        "{} holds the packages for Python {}.{} on {}. Use it with: python3 dev.py run --wheels {}".format(
            options.folder, *sys.version_info[:2], machine(), options.folder
        )
    )
    return 0


def lock(options: argparse.Namespace, rest: list[str]) -> int:
    """Remake the lock files: every platform in one file, hashes, and no address of any index."""
    set_up("uv", options)
    base = [
        str(SCRIPTS / ("uv" + EXE)),
        *("pip", "compile", "--universal", "--python-version", "{}.{}".format(*OLDEST_PYTHON)),
        *("--generate-hashes", "--no-emit-index-url", "--no-emit-find-links", "--no-header", "--quiet"),
        *("--no-config", "--upgrade", "--only-binary", ":all:"),  # what is installed is ready-made
    ]
    # What runs is what was tested: the larger lock is made first and the smaller takes its versions.
    for arguments in (
        ["pyproject.toml", "--group", "test", "-o", LOCKS["test"]],
        ["pyproject.toml", "--group", "build", "-c", LOCKS["test"], "-o", LOCKS["run"]],
        ["--group", "uv", "-o", LOCKS["uv"]],
    ):
        if subprocess.call([*base, *arguments], cwd=ROOT, stdout=subprocess.DEVNULL):
            raise Refused(
                "The lock could not be made: see the lines above. The old files stand as they were."
            )
    return 0


# The environment


def set_up(kind: str, options: argparse.Namespace) -> None:
    """Bring .venv to what the lock says; where the stamp fits there is nothing to do."""
    stamp = VENV / ("stamp-" + kind)
    wanted = fingerprint(kind)
    try:
        if stamp.read_text(encoding="ascii") == wanted:
            return
    except (OSError, ValueError):
        pass  # no stamp, or a damaged one: set up
    begun = time.monotonic()
    print("Setting up lightoff in {} (once; this takes a moment) ...".format(VENV), flush=True)
    make_venv()
    stamp.unlink(missing_ok=True)
    folder = getattr(options, "wheels", None)
    if folder is not None and not folder.is_dir():
        raise Refused("There is no folder {}. Fill one with: python3 dev.py wheels {}".format(folder, folder))
    pip(["install", *locked(kind)], options, what="Installing the packages")
    if kind != "uv":
        own = ["install", "--no-deps", "--no-build-isolation", "--no-index", "--editable", str(ROOT)]
        pip(own, options, what="Installing lightoff itself")
    stamp.write_text(wanted, encoding="ascii")
    print("Ready after {:.0f} s.".format(time.monotonic() - begun), flush=True)


def fingerprint(kind: str) -> str:
    """Changes whenever the environment must be brought up to date."""
    digest = hashlib.sha256()
    for name in (LOCKS[kind], "pyproject.toml"):
        content = (ROOT / name).read_bytes()
        digest.update("{} {}\n".format(name, len(content)).encode())
        digest.update(content)
    digest.update("{} {} {}".format(sys.version, machine(), ROOT).encode())
    return digest.hexdigest()


def make_venv() -> None:
    """Make .venv anew unless a whole one of this Python stands there."""
    mark = VENV / "made-by"
    maker = "{} {}".format(sys.version, ROOT)
    if mark.is_file() and mark.read_text(encoding="utf-8") == maker:
        return
    missing = missing_module()
    if missing:
        raise Refused(NO_VENV.format(python=sys.executable, module=missing))
    command = [sys.executable, "-m", "venv", "--clear", str(VENV)]
    made = subprocess.run(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace"
    )
    if made.returncode:
        if "No space left" in made.stdout or shutil.disk_usage(ROOT).free < 50e6:
            raise Refused(full_disk("run"))
        raise Refused(
            "The virtual environment could not be made in {}:\n{}".format(VENV, made.stdout.strip())
        )
    mark.write_text(maker, encoding="utf-8")


def missing_module() -> str | None:
    """The name of the standard module that some systems package apart, or None."""
    for name in ("venv", "ensurepip"):
        if importlib.util.find_spec(name) is None:
            return name
    return None


def locked(kind: str) -> list[str]:
    """Exactly the locked wheels: hashes required, nothing built, nothing resolved anew."""
    return ["--require-hashes", "--only-binary", ":all:", "--no-deps", "-r", str(ROOT / LOCKS[kind])]


def pip(arguments: list[str], options: argparse.Namespace, *, what: str) -> None:
    """Run the environment's own pip; a failure becomes a sentence."""
    folder = getattr(options, "wheels", None) if options.command != "wheels" else None
    source = ["--no-index", "--find-links", str(folder.resolve())] if folder else []
    command = [str(SCRIPTS / ("python" + EXE)), "-m", "pip", "--disable-pip-version-check", "--no-input"]
    print(what + " ...", flush=True)
    environment = dict(os.environ, PYTHONUTF8="1")
    for name in ("PIP_USER", "PIP_TARGET", "PIP_PREFIX", "PYTHONPATH", "PYTHONHOME"):
        environment.pop(name, None)
    done = subprocess.run(
        [*command, *arguments, "--retries", "2", *source],
        cwd=ROOT,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        errors="replace",
    )
    if done.returncode:
        raise Refused(explain(done.stdout, command=options.command, folder=folder))


def explain(log: str, *, command: str, folder: Path | None = None) -> str:
    """What pip's output means for the person at the keyboard."""
    tests = {
        "disk": ("No space left on device", "Errno 28", "not enough space on the disk"),
        "hash": ("DO NOT MATCH THE HASHES",),
        "network": (
            *("NewConnectionError", "NameResolutionError", "Max retries exceeded", "ConnectTimeout"),
            *(
                "ReadTimeout",
                "getaddrinfo failed",
                "Network is unreachable",
                "ProxyError",
                "Connection refused",
            ),
        ),
        "wheel": ("No matching distribution found", "is not a supported wheel"),
    }
    found = next((kind for kind, words in tests.items() if any(word in log for word in words)), None)
    if found == "disk":
        return full_disk(command)
    if found == "hash":
        return WRONG_HASH
    if found == "network":
        return NO_NETWORK.format(command=command)
    if found == "wheel":
        return NO_WHEEL.format(
            machine=machine(),
            version="{}.{}".format(*sys.version_info[:2]),
            where="in {}".format(folder) if folder else "in the package index",
            oldest="{}.{}".format(*OLDEST_PYTHON),
            refill=", or fill the folder with this same Python" if folder else "",
        )
    last = "\n".join(line for line in log.strip().splitlines()[-12:])
    return "The packages could not be installed. The last lines of the installer:\n" + last


def full_disk(command: str) -> str:
    """The sentence for a disk without room."""
    megabytes = 1300 if command in ("test", "docs") else 700
    return NO_DISK.format(what="python3 dev.py " + command, megabytes=megabytes, place=VENV)


def machine() -> str:
    """The kind of machine, as wheels name it: system and processor."""
    return "{} {}".format(platform.system(), platform.machine())


# The browser of the tests


def find_browser() -> str | None:
    """Path of a browser that the tests can drive, or None."""
    named = os.environ.get("LIGHTOFF_CHROMIUM")
    if named:
        if not Path(named).is_file():
            raise Refused("LIGHTOFF_CHROMIUM names {}, and there is no such file.".format(named))
        return named
    for name in BROWSERS:
        path = shutil.which(name)
        if path:
            return path
    return next((place for place in BROWSER_PLACES if Path(place).is_file()), None)


def install_browser() -> str | None:
    """On Debian as root, Chromium by the system's package tool; elsewhere nothing, and None."""
    if not Path("/etc/debian_version").is_file() or os.geteuid() != 0 or not shutil.which("apt-get"):
        return None
    print("Installing Chromium for the browser tests (apt-get) ...", flush=True)
    environment = dict(os.environ, DEBIAN_FRONTEND="noninteractive")
    for arguments in (["update"], ["install", "-y", "--no-install-recommends", "chromium"]):
        quiet = subprocess.run(
            ["apt-get", "-qq", *arguments],
            env=environment,
            stdout=subprocess.DEVNULL,
            stdin=subprocess.DEVNULL,
        )
        if quiet.returncode:
            return None
    return find_browser()


if __name__ == "__main__":
    sys.exit(main())

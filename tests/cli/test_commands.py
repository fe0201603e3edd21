"""The command line as a user meets it."""

import json
import os
import re
import signal
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner

from lightoff.cli import main
from lightoff.ground.ids import time_ordered_id
from lightoff.records import body_of
from lightoff.terms.entry import Entry
from lightoff.terms.people import Instrument
from lightoff.work import fleet_kept
from lightoff.work.make_demo_shop import make_demo_shop
from lightoff.work.units import units
from lightoff.work.workshop import open_shop

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "examples"
CODES = {"with-probe": 0, "co2-calculated": 0, "no-probe": 10, "not-fit": 20, "stop": 30}


def run(*words: str | Path, stdin: bytes | None = None) -> tuple[int, str, str]:
    found = CliRunner().invoke(main, [str(word) for word in words], input=stdin)
    return found.exit_code, found.stdout, found.stderr


@pytest.mark.parametrize("name", CODES)
def test_exit_code_and_words_of_each_example(name: str) -> None:
    code, out, err = run("assess", EXAMPLES / f"{name}.toml")
    assert (code, err) == (CODES[name], "")
    for heading in ("Work done", "What was measured", "Invented data."):
        assert heading in out


def test_a_real_process_ends_with_the_code_of_the_verdict() -> None:
    command = [sys.executable, "-c", "from lightoff.cli import main; main()", "assess"]
    found = subprocess.run([*command, str(EXAMPLES / "stop.toml")], capture_output=True, check=False)
    assert found.returncode == 30
    ascii_only = {**os.environ, "PYTHONIOENCODING": "ascii"}
    found = subprocess.run(
        [*command, str(EXAMPLES / "stop.toml")], capture_output=True, check=False, env=ascii_only
    )
    assert found.returncode == 30
    assert b"Leave the vehicle" in found.stdout


def test_data_and_page_of_text_show_the_same_figures() -> None:
    _, text, _ = run("assess", EXAMPLES / "with-probe.toml")
    code, out, _ = run("assess", EXAMPLES / "with-probe.toml", "--json")
    data = json.loads(out)
    assert code == 0
    assert data["format"] == "lightoff assessment 1"
    assert data["verdict"]["verdict"] == "fit as tested"
    assert re.fullmatch("[0-9a-f]{64}", data["inputs_sha256"])
    shown = [figure["shown"] for area in data["areas"] for figure in area["figures"]]
    assert len(shown) > 10
    for figure in shown:
        width = f"\u00a0±\u00a0{figure['half_width']}" if figure["half_width"] else ""
        assert f"{figure['value']}{width}" in text


def test_days_and_times_are_told_by_the_clock_of_the_visit(tmp_path: Path) -> None:
    far_west = (
        (EXAMPLES / "with-probe.toml").read_text().replace('"+01:00"', '"-11:30"')
    )  # 1.10 next day in UTC
    file = tmp_path / "visit.toml"
    file.write_text(far_west)
    for command in ("assess", "find"):
        _, out, _ = run(command, file)
        assert re.match(r"Saltgrass, aft heater, 12 March 2025\n", out), command
        assert "13 March" not in out


def test_units_of_the_reader() -> None:
    _, out, _ = run("assess", EXAMPLES / "with-probe.toml", "--units", "us")
    assert "°F" in out
    assert "237\u00a0±\u00a02" not in out


def test_standard_input() -> None:
    code, out, _ = run("assess", "-", stdin=(EXAMPLES / "not-fit.toml").read_bytes())
    assert code == 20
    assert "Not fit" in out


def test_keep_going_judges_good_rows_and_is_never_fit(tmp_path: Path) -> None:
    bad = tmp_path / "visit.toml"
    bad.write_text(
        (EXAMPLES / "with-probe.toml").read_text("utf-8") + '\n[[event]]\nkind = "fire"\nat = "14:00"\n'
    )
    code, out, err = run("assess", bad)
    assert (code, out) == (1, "")
    assert "event 4 (fire), kind: “fire” is not possible here." in err
    code, out, err = run("assess", bad, "--keep-going")
    assert code == 10
    assert "event 4 (fire)" in err
    assert "set aside" in out
    code, out, err = run("assess", bad, "--keep-going", "--json")
    data = json.loads(out)
    said = [data["said"]["text"], *(each["text"] for each in data["paragraph"])]
    assert said[-1].endswith("still not proven.")
    assert not any("every limit that was checked was met" in each for each in said)


def test_a_suspicion_that_was_kept_to_is_told(tmp_path: Path) -> None:
    text = (EXAMPLES / "with-probe.toml").read_text(encoding="utf-8")
    intake = 'key = "combustion_air_temperature", value = 11, unit = "degC"'
    file = tmp_path / "visit.toml"
    file.write_text(text.replace(intake, f"{intake.replace('11', '52')}, confirmed = true"), encoding="utf-8")
    code, out, _ = run("assess", file)
    assert code == 0
    assert "Asked this, the technician kept to it." in " ".join(out.split())


def test_schema_is_printed() -> None:
    code, out, _ = run("assess", "--schema")
    assert code == 0
    assert json.loads(out)["title"] == "lightoff visit file"


def test_wrong_calls_end_with_2() -> None:
    assert run("assess", "x.toml", "--units", "cubits")[0] == 2
    assert run("asess")[0] == 2
    assert run("report", EXAMPLES / "stop.toml")[0] == 2


def test_report_is_a_pdf_and_replaces_whole(tmp_path: Path) -> None:
    out = tmp_path / "report.pdf"
    code, said, _ = run("report", EXAMPLES / "with-probe.toml", "-o", out)
    assert code == 0
    assert out.read_bytes().startswith(b"%PDF-")
    assert "Verdict: Fit as tested" in said
    code, _, err = run("report", EXAMPLES / "with-probe.toml", "-o", tmp_path / "nowhere" / "x.pdf")
    assert code == 1
    assert f"cannot be written: there is no folder “{tmp_path / 'nowhere'}”. Make it" in err
    assert [each.name for each in tmp_path.iterdir()] == ["report.pdf"]


def test_a_report_replaces_nothing_but_a_report(tmp_path: Path) -> None:
    visit = tmp_path / "visit.toml"
    visit.write_bytes((EXAMPLES / "with-probe.toml").read_bytes())
    for output, said in (
        (visit, "is there already and is no report, so it is left as it is"),
        (tmp_path, "is a folder. Name the PDF to write in it"),
        (Path("."), "is a folder. Name the PDF to write in it"),
    ):
        code, _, err = run("report", visit, "-o", output)
        assert code == 1
        assert said in err
        assert "nobody foresaw" not in err
    assert visit.read_bytes() == (EXAMPLES / "with-probe.toml").read_bytes()
    bill = tmp_path / "bill.pdf"
    bill.write_bytes(b"%PDF-1.4 somebody else's")
    code, _, err = run("report", visit, "-o", bill)
    assert code == 1
    assert "is there already and is no report" in err
    assert bill.read_bytes() == b"%PDF-1.4 somebody else's"
    old = tmp_path / "r.pdf"
    assert run("report", EXAMPLES / "stop.toml", "-o", old)[0] == 0
    before = old.read_bytes()
    code, out, _ = run("report", visit, "-o", old)
    assert code == 0
    assert out.startswith(f"The report is in “{old}”.")
    assert old.read_bytes() != before


def test_words_that_are_broken_themselves_still_end_in_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise KeyError("planted")

    monkeypatch.setattr("lightoff.texts.speaker.templates", broken)
    code, _, err = run("fuels")
    assert code == 1
    assert (
        err
        == "lightoff is not whole (KeyError: 'planted'). Install it again; nothing that was kept is lost.\n"
    )


def test_a_bound_is_told_unrounded_and_a_missing_format_is_given(tmp_path: Path) -> None:
    text = (EXAMPLES / "with-probe.toml").read_text("utf-8")
    wrong = tmp_path / "wrong.toml"
    wrong.write_text(text.replace('key = "flue_o2", value = 4.8', 'key = "flue_o2", value = 25'), "utf-8")
    _, _, err = run("assess", wrong)
    assert (
        "O₂ in the exhaust is 25\u00a0%, which cannot be; it must lie from 0\u00a0% to 20.95\u00a0%." in err
    )
    wrong.write_text(text.replace('format = "lightoff visit 1"', ""), "utf-8")
    _, _, err = run("assess", wrong)
    assert err == 'format: This is missing. Begin the file with format = "lightoff visit 1".\n'


def test_fuels_with_sources() -> None:
    code, out, _ = run("fuels")
    assert code == 0
    assert "diesel_2: No. 2 diesel" in out
    assert out.count("from: ") == out.count("air need by mass") >= 8


def test_doctor_of_nothing_and_of_a_missing_book(tmp_path: Path) -> None:
    assert run("doctor")[0] == 0
    file = tmp_path / "file"
    file.touch()
    code, out, _ = run("doctor", "--shop", file)
    assert code == 1
    assert "There is no folder" in out
    code, out, _ = run("doctor", "--shop", tmp_path)
    assert code == 1
    assert "There is no book at" in out


def test_doctor_names_what_waits_for_a_choice(tmp_path: Path) -> None:
    at = datetime(2026, 3, 10, 9, tzinfo=UTC)
    with open_shop(tmp_path) as workshop:
        for minute, day in ((0, date(2024, 1, 5)), (7, date(2026, 1, 5))):
            probe = Instrument(id="probe-1", name="Probe", kind="flue_gas_probe", calibrated_on=day)
            moment = at + timedelta(minutes=minute)
            entry = Entry(
                id=time_ordered_id(moment, bytes(10)),
                subject=probe.id,
                field="instrument",
                value=body_of(probe),
                author=f"Person {minute}",
                at=moment,
            )
            workshop.book.keep([entry])
    code, out, _ = run("doctor", "--shop", tmp_path)
    assert code == 1
    assert "The entries of the instrument “Probe” contradict each other: calibrated on 5 January 2024" in out
    assert "calibrated on 5 January 2026 (Person 7, 10 March 2026, 09:07). No clock settles" in out


JUNK: dict[str, bytes] = {
    "empty.toml": b"",
    "utf16.toml": "format = 1".encode("utf-16"),
    "latin1.toml": "owner = 'Zo\xeb'".encode("latin-1"),
    "nul.toml": b"a = '\0'",
    "list.json": b"[1, 2]",
    "deep.json": b'{"a":' * 90_000,
    "deep.toml": b"a = " + b"[" * 90_000,
    "cut.json": b'{"format": "lightoff visit 1", "owner": {"na',
    "digits.toml": b"a = " + b"1" * 9_999,
    "date.toml": b"a = 2025-02-31",
    "nan.json": b'{"format": NaN}',
    "binary.toml": bytes(range(256)) * 40,
    "picture.toml": b"\x89PNG\r\n\x1a\n" + bytes(200),
    "null.json": b"null",
    "wrong-kinds.json": b'{"format": [], "owner": 3, "vehicle": null, "heater": {}, "visit": [], "reading": {}}',
    "rows.json": b'{"format": "lightoff visit 1", "reading": [1, "x", null, [], {"key": {}}], "set": [{"reading": 7}]}',
    "surrogate.json": b'{"format": "\\ud800", "owner": {"name": "\\ud800"}}',
}


@pytest.mark.parametrize("name", JUNK)
def test_junk_is_told_in_sentences(name: str, tmp_path: Path) -> None:
    file = tmp_path / name
    file.write_bytes(JUNK[name])
    for words in (
        ("assess", file),
        ("assess", file, "--keep-going"),
        ("report", file, "-o", tmp_path / "x.pdf"),
    ):
        code, out, err = run(*words)
        assert code == 1, (out, err)
        assert err.strip().endswith((".", "?"))
        assert "Traceback" not in err
        assert "nobody foresaw" not in err
    assert not (tmp_path / "x.pdf").exists()


def test_huge_folder_and_missing(tmp_path: Path) -> None:
    huge = tmp_path / "huge.toml"
    with huge.open("wb") as file:
        file.truncate(200_000_000)
    code, _, err = run("assess", huge)
    assert (code, err) == (1, "“huge.toml” is 200 MB. A visit file has at most 5 MB; is it the right file?\n")
    for path in (tmp_path, tmp_path / "none.toml"):
        code, _, err = run("assess", path)
        assert code == 1
        assert "cannot be read" in err


@contextmanager
def serving(folder: Path) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """A server of its own process on this shop, with its address."""
    command = [sys.executable, "-c", "from lightoff.cli import main; main()", "serve", "--port", "0"]
    with subprocess.Popen(
        [*command, "--shop", str(folder)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as server:
        assert server.stdout is not None
        line = server.stdout.readline()
        address = re.search(r"http://127\.0\.0\.1:\d+", line)
        assert address is not None, line
        yield server, address[0]


@pytest.mark.skipif(os.name == "nt", reason="no SIGTERM that a child there can act on")
def test_what_a_server_worked_out_of_the_whole_shop_is_there_at_its_next_start(tmp_path: Path) -> None:
    folder = make_demo_shop(tmp_path / "shop", datetime.now(tz=UTC))
    with open_shop(folder) as shop:
        visit = next(each.visits[-1].id for each in units(shop, datetime.now(tz=UTC)).values() if each.visits)
        assert fleet_kept.find(shop, datetime.now(tz=UTC)) is None
    with serving(folder) as (server, address):
        with urllib.request.urlopen(f"{address}/visits/{visit}/report.pdf", timeout=60) as answer:
            assert answer.read(5) == b"%PDF-"
        server.terminate()
        _, err = server.communicate(timeout=60)
    assert (server.returncode, err) == (0, "")
    with open_shop(folder) as shop:
        kept = fleet_kept.find(shop, datetime.now(tz=UTC))
        assert kept is not None
        assert kept.head.possible


@pytest.mark.skipif(os.name == "nt", reason="no SIGINT for a child there")
@pytest.mark.parametrize("ending", [signal.SIGINT, signal.SIGTERM])
def test_serve_answers_and_ends_cleanly(ending: signal.Signals, tmp_path: Path) -> None:
    with serving(tmp_path / "shop") as (server, address):
        with urllib.request.urlopen(f"{address}/healthz", timeout=20) as answer:
            assert answer.read() == b"ok\n"
        server.send_signal(ending)
        out, err = server.communicate(timeout=20)
    assert (server.returncode, err) == (0, "")
    assert "Everything that was kept is in the book." in out

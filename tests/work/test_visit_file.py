"""A visit file is one case, or every fault that keeps it from being one."""

import json
import tomllib
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from importlib.resources import files
from pathlib import Path

import jsonschema
import pytest

from lightoff.ground.errors import Refusal, Refusals
from lightoff.judging.assessment import Verdict
from lightoff.shelf import Shelf
from lightoff.terms.part import Move, MoveKind, Outcome, StepDone
from lightoff.terms.visit import Stage
from lightoff.texts import Speaker
from lightoff.work.assess_case import assess_case, with_set_aside
from lightoff.work.visit_file import read_good_rows, read_visit_file
from lightoff.work.visit_file_shape import schema
from lightoff.work.visit_file_writing import write_visit_file

EXAMPLES = Path(__file__).parents[2] / "examples"
VERDICTS = {
    "with-probe": Verdict.FIT,
    "co2-calculated": Verdict.FIT,
    "no-probe": Verdict.NOT_PROVEN,
    "no-heat-call": Verdict.NOT_PROVEN,
    "not-fit": Verdict.NOT_FIT,
    "stop": Verdict.STOP,
}


def faults(text: str | bytes, shelf: Shelf) -> list[str]:
    data = text.encode() if isinstance(text, str) else text
    with pytest.raises(Refusal) as refused:
        read_visit_file(data, "visit.toml", shelf)
    error = refused.value
    told = error.refusals if isinstance(error, Refusals) else (error,)
    return [Speaker().say(each.message).replace("\u00a0", " ") for each in told]


def test_every_example_has_its_verdict_here() -> None:
    assert {path.stem for path in EXAMPLES.glob("*.toml")} == set(VERDICTS)


@pytest.mark.parametrize("name", VERDICTS)
def test_example(name: str, shelf: Shelf, now: datetime) -> None:
    data = (EXAMPLES / f"{name}.toml").read_bytes()
    case = read_visit_file(data, name, shelf)
    assert case.shop.invented
    assert assess_case(case, shelf, now).verdict.verdict is VERDICTS[name]
    assert read_visit_file(data, name, shelf) == case
    again = read_visit_file(write_visit_file(case), "again.toml", shelf)
    assert again == case
    assert assess_case(again, shelf, now) == assess_case(case, shelf, now)


def test_numbers_keep_their_decimals(with_probe: str, shelf: Shelf) -> None:
    case = read_visit_file(with_probe.replace("value = 4.8", "value = 4.80").encode(), "visit.toml", shelf)
    left = [each for each in case.visit.readings if each.key == "flue_o2" and each.stage is Stage.AS_LEFT]
    assert str(left[0].value) == "4.80"


def test_json_says_the_same(with_probe: str, shelf: Shelf) -> None:
    def plain(value: object) -> object:
        match value:
            case dict():
                return {key: plain(each) for key, each in value.items()}
            case list():
                return [plain(each) for each in value]
            case Decimal():
                return format(value, "f")
            case bool() | int() | str():
                return value
            case _:
                return value.isoformat()  # type: ignore[attr-defined]

    tables = plain(tomllib.loads(with_probe, parse_float=Decimal))
    jsonschema.validate(tables, schema())
    assert read_visit_file(json.dumps(tables).encode(), "visit.json", shelf) == read_visit_file(
        with_probe.encode(), "visit.toml", shelf
    )


def test_times_are_local_where_an_offset_says_so(with_probe: str, shelf: Shelf) -> None:
    case = read_visit_file(with_probe.encode(), "visit.toml", shelf)
    assert case.visit.started_at == datetime(2025, 3, 12, 12, 40, tzinfo=UTC)
    assert case.visit.events[-1].at == datetime(2025, 3, 12, 13, 30, tzinfo=UTC)
    assert case.visit.utc_offset_minutes == 60


CLOCKS = [("Z", None), ("-04:30", -270), ("+05:45", 345), ("+20:00", None)]


@pytest.mark.parametrize(("offset", "ahead"), CLOCKS)
def test_a_start_with_an_offset_tells_the_clock_of_its_days(
    with_probe: str, shelf: Shelf, offset: str, ahead: int | None
) -> None:
    begun = "started_at = 2025-03-12T13:40:00"
    text = with_probe.replace(begun, begun + offset).replace('utc_offset = "+01:00"\n', "")
    case = read_visit_file(text.encode(), "visit.toml", shelf)
    assert case.visit.started_at == datetime.fromisoformat(f"2025-03-12T13:40:00{offset}")
    assert case.visit.utc_offset_minutes == ahead
    assert read_visit_file(write_visit_file(case), "again.toml", shelf) == case


def test_published_schema_is_the_one_of_the_models() -> None:
    shipped = files("lightoff.work").joinpath("visit-file.schema.json").read_text(encoding="utf-8")
    assert json.loads(shipped) == schema()
    jsonschema.Draft202012Validator.check_schema(schema())


def test_all_faults_are_told_at_once_with_their_place(with_probe: str, shelf: Shelf) -> None:
    text = (
        with_probe.replace('fuel = "diesel_2"', 'fuel = "diesel2"')
        .replace('kind = "smoke_pump"', 'kind = "smoke pump"')
        .replace('state = "tight"', 'state = "tigth"')
        .replace('technician = "J. Aalto"\nreason', 'technican = "J. Aalto"\nreason')
        .replace('value = 38, unit = "ppm"', 'value = 38, unit = "degC"')
    )
    told = faults(text, shelf)
    assert "visit, technican: Nothing of this name belongs here. Did you mean technician?" in told
    assert len(told) == 5
    # The smoke pump's readings go with it, and are no faults of their own.
    assert len(faults(text.replace("technican", "technician"), shelf)) == 4
    joined = "\n".join(told)
    assert "isit, fuel: “diesel2” is not possible here. Did you mean diesel_2?" in joined
    assert (
        "nstrument 3 (smoke pump), kind: “smoke pump” is not possible here. Did you mean smoke_pump?"
        in joined
    )
    assert "(sampling_line), state: “tigth” is not possible here. Did you mean tight?" in joined
    assert "(flue_co), unit: “degC” cannot be the unit here. Possible: %, ppm, mg/m3 CO." in joined
    assert "(smoke_number)" not in joined


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("value = 4.8", "value = nan", "“NaN” is not a number that an instrument shows."),
        ("value = 4.8", "value = inf", "is not a number that an instrument shows."),
        ("value = 4.8", "value = 1e400", "“1E+400” has an exponent."),
        ("value = 4.8", 'value = "1,500"', "can be read in two ways. Write 1500 or 1.500."),
        ("value = 4.8", "value = true", "“true” is not a number."),
        ("value = 4.8", "value = -4.8", "which cannot be below zero; it must lie from 0"),
        (
            "value = 4.8",
            "value = 25",
            "is 25 %, which cannot be; it must lie from 0",
        ),
        ("value = 236", "value = 457", "Did the instrument show 457 °F? Check the unit."),
        ("value = 236", "value = 3", "is colder than the intake air at 11 °C."),
        ("value = 11.9", "value = 15.9", "is more than No. 2 diesel can make"),
        ("value = 11.9", "value = 10.9", "mark the reading as wet"),
        ('basis = "dry"', 'bases = "dry"', "Did you mean basis?"),
        (', basis = "dry"', "", "How it was read is missing. Write basis as one of: dry, wet."),
        ('stage = "as left"\n', "", "The stage is missing."),
        ('utc_offset = "+01:00"', "", "is a local time, and nothing says of which place."),
        ("[[event]]", "[event]", "if there are several, each begins with [[event]]."),
        (
            'format = "lightoff visit 1"',
            'format = "lightoff visit 9"',
            "This program reads “lightoff visit 1”.",
        ),
        ("closed_at = 2025-03-12T15:40:00", "closed_at = 2025-03-12T11:40:00", "closed before it starts"),
        ('value = 5, unit = "m"', 'value = 99000, unit = "m"', "An altitude of 99000 m is not on any road"),
        ("started_at = 2025-03-12T13:40:00", 'started_at = "yesterday"', "“yesterday” is not a time."),
        ("calibrated_on = 2024-09-02", 'calibrated_on = "2024-13-02"', "is not a day of the calendar"),
    ],
)
def test_fault(old: str, new: str, sentence: str, with_probe: str, shelf: Shelf) -> None:
    assert old in with_probe
    assert any(
        sentence in each for each in faults(with_probe.replace(old, new, 1 if "e = " in old else -1), shelf)
    )


def test_what_the_person_insists_on_is_kept_and_never_makes_fit(
    with_probe: str, shelf: Shelf, now: datetime
) -> None:
    text = with_probe.replace('value = 4.8, unit = "%"', 'value = 25, unit = "%", confirmed = true')
    case = read_visit_file(text.encode(), "visit.toml", shelf)
    assert any(each.value == 25 and each.confirmed for each in case.visit.readings)
    assert assess_case(case, shelf, now).verdict.verdict is not Verdict.FIT


@pytest.mark.parametrize(
    ("key", "change"),
    [
        ("flue_o2", {"value": Decimal(25)}),
        ("flue_o2", {"basis": None}),
        ("flue_co2", {"value": Decimal("16.5")}),
        ("flue_co", {"value": Decimal(0)}),
        ("stack_gas_temperature", {"value": Decimal(8)}),
        ("combustion_air_temperature", {"value": Decimal(52)}),
    ],
)
def test_what_a_book_kept_unanswered_reads_back_as_it_stands(
    key: str, change: dict[str, object], with_probe: str, shelf: Shelf, now: datetime
) -> None:
    case = read_visit_file(with_probe.encode(), "visit.toml", shelf)
    readings = tuple(
        replace(each, entered_at=each.taken_at, **(change if each.key == key else {}))
        for each in case.visit.readings
    )
    kept = replace(case, visit=replace(case.visit, readings=readings))
    again = read_visit_file(write_visit_file(kept), "again.toml", shelf)
    assert again == kept
    assert assess_case(again, shelf, now) == assess_case(kept, shelf, now)


@pytest.mark.parametrize(
    ("sheet", "volts", "asked"),
    [
        ("generic_9_kw", "12.6", False),
        ("generic_9_kw", "14.8", False),
        ("generic_9_kw", "9.5", False),
        ("generic_9_kw", "25.2", True),
        ("generic_12_kw", "25.2", False),
        ("generic_12_kw", "12.6", True),
    ],
)
def test_a_supply_of_another_system_is_asked_about(
    sheet: str, volts: str, asked: bool, with_probe: str, shelf: Shelf
) -> None:
    assert shelf.sheets["generic_9_kw"].supply_v == 12
    assert shelf.sheets["generic_12_kw"].supply_v == 24
    text = with_probe.replace("generic_9_kw", sheet)
    text += f"""
[[instrument]]
name = "multimeter"
kind = "multimeter"
calibrated_on = 2024-09-02

[[reading]]
key = "supply_voltage_rest"
stage = "as left"
taken_at = "14:30"
value = {volts}
unit = "V"
instrument = "multimeter"
"""
    if not asked:
        read_visit_file(text.encode(), "visit.toml", shelf)
        return
    (told,) = faults(text, shelf)
    rated = "12" if sheet == "generic_9_kw" else "24"
    assert f"Supply at rest is {volts} V, and the sheet of this heater is for {rated}" in told


def test_good_rows_beside_bad_ones_are_judged_and_never_fit(
    with_probe: str, shelf: Shelf, now: datetime
) -> None:
    text = with_probe + '\n[[reading]]\nkey = "burner_sound"\nstage = "as left"\nstate = "lovely"\nloud = 3\n'
    read = read_good_rows(text.encode(), "visit.toml", shelf)
    assert [Speaker().say(each.message) for each in read.faults] == [
        "reading 1 (burner_sound), loud: Nothing of this name belongs here. "
        "Possible: " + ", ".join(schema()["$defs"]["ReadingTable"]["properties"]) + "."
    ]
    whole = read_visit_file(with_probe.encode(), "visit.toml", shelf)
    assert read.case == whole
    assessment = with_set_aside(assess_case(whole, shelf, now), read.faults)
    assert assessment.verdict.verdict is Verdict.NOT_PROVEN
    told = [Speaker().say(each) for each in assessment.paragraph[-2:]]
    assert told[0].startswith("One row of the file could not be read and was set aside")
    assert told[1] == "Therefore still not proven."
    names = [each.gate for each in assessment.verdict.gates]
    assert len(names) == len(set(names)), "a gate is named twice"


def test_rows_set_aside_and_a_doubted_reading_are_told_by_one_gate(
    with_probe: str, shelf: Shelf, now: datetime
) -> None:
    whole = read_visit_file(with_probe.encode(), "visit.toml", shelf)
    late = tuple(replace(each, taken_at=None) for each in whole.visit.readings)
    case = replace(whole, visit=replace(whole.visit, readings=late))
    broken = read_good_rows((with_probe + "\n[[reading]]\nloud = 3\n").encode(), "visit.toml", shelf)
    before = assess_case(case, shelf, now)
    (own,) = (each for each in before.verdict.gates if each.gate == "belongs here")
    assessment = with_set_aside(before, broken.faults)
    (gate,) = (each for each in assessment.verdict.gates if each.gate == "belongs here")
    assert str(gate.judgement) == "not proven"
    assert gate.missing == own.missing
    said = Speaker().say(gate.said)
    assert Speaker().say(own.said) in said
    assert "could not be read and w" in said


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "is empty"),
        (b" \n", "is empty"),
        ("format = 1".encode("utf-16"), "is written in UTF-16"),
        (b'a = "x\0y"', "holds zero bytes"),
        ('a = 1\nname = "Zo\xeb"'.encode("latin-1"), "line 2 holds the byte 0xeb"),
        (b"[visit\n", "is not TOML at line 1"),
        (b"a = 1\nvalue = 4,8\n", "says 4,8 at line 2. Write a decimal point in a file: 4.8"),
        (b"value = 4,8  # oxygen", "says 4,8 at line 1"),
        (b'{"a": 1,\n"value": -0,5\n}', "says -0,5 at line 2"),
        (b'a = """ begun, ', "ends in the middle of something"),
        (b'{"format": "lightoff visit 1", ', "is not JSON at line 1"),
        (b"[" * 100_000, "is not TOML"),
        (b'{"a":' * 100_000, "nests its tables far deeper"),
        (b"a = " + b"9" * 5_000, "far too many figures"),
        (b'{"a": 1, "a": 2}', "is written twice"),
        (b'a = 1\n\n"b" = 2\n"b" = 3\n', 'line 4 what stands above it already: “"b" = 3”. Keep one'),
        (b"[owner]\n[shop]\n[owner]\n", "line 3 what stands above it already: “[owner]”. Keep one of them;"),
        (b"x" * 5_000_001, "at most 5 MB"),
        (b'{"format": "lightoff visit 1"}', "This is missing. Add it."),
    ],
)
def test_what_is_no_visit_file(data: bytes, sentence: str, shelf: Shelf) -> None:
    assert any(sentence in each for each in faults(data, shelf))


def test_a_byte_order_mark_is_no_fault(with_probe: str, shelf: Shelf) -> None:
    data = b"\xef\xbb\xbf" + with_probe.encode()
    assert read_visit_file(data, "visit.toml", shelf) == read_visit_file(with_probe.encode(), "v", shelf)


def test_cut_off_anywhere_is_a_fault_or_a_case_and_never_a_crash(with_probe: str, shelf: Shelf) -> None:
    data = with_probe.encode()
    for end in range(0, len(data), 97):
        try:
            read_visit_file(data[:end], "visit.toml", shelf)
        except Refusal as refused:
            assert Speaker().say(refused.message)


CONFLICT = """
[[conflict]]
noun = "heater"
subject = "heater-1"
[[conflict.candidate]]
entry = "e-1"
author = "Ann"
at = 2025-03-12T13:00:00Z
says = '{"vehicle": "vehicle-1", "name": "aft", "sheet": "generic_12_kw"}'
[[conflict.candidate]]
entry = "e-2"
at = 2025-03-12T13:05:00Z
"""


def test_a_conflict_in_a_file_is_judged(with_probe: str, shelf: Shelf, now: datetime) -> None:
    text = with_probe.replace("[heater]", '[heater]\nid = "heater-1"')
    assert assess_case(read_visit_file(text.encode(), "v", shelf), shelf, now).verdict.verdict is Verdict.FIT
    case = read_visit_file((text + CONFLICT).encode(), "v", shelf)
    (conflict,) = case.conflicts
    assert [each.author for each in conflict.candidates] == ["Ann", ""]
    assert conflict.candidates[1].says is None
    assert assess_case(case, shelf, now).verdict.verdict is Verdict.NOT_PROVEN


@pytest.mark.parametrize(
    ("written", "instead", "sentence"),
    [
        ('"sheet": "generic_12_kw"}', '"sheet": "gen', "conflict 1, candidate 1, says: This is not what"),
        ('"sheet": "generic_12_kw"', '"sheet": 12', "conflict 1, candidate 1, says: “sheet”"),
        ('noun = "heater"', 'noun = "stove"', "conflict 1, noun: “stove” is not possible here"),
        ('entry = "e-2"', 'entry = "e 2"', "conflict 1, candidate 2, entry:"),
        ("at = 2025-03-12T13:05:00Z", 'at = "noon"', "conflict 1, candidate 2, at:"),
    ],
)
def test_a_conflict_that_cannot_be_read_is_never_left_out(
    with_probe: str, shelf: Shelf, written: str, instead: str, sentence: str
) -> None:
    text = with_probe + CONFLICT.replace(written, instead)
    told = faults(text, shelf)
    assert len(told) == 1
    assert sentence.lower() in told[0].lower()
    assert read_good_rows(text.encode(), "v", shelf).case is None, "not even beside good rows"


def test_parts_and_steps_read_back_as_they_stand(with_probe: str, shelf: Shelf) -> None:
    case = read_visit_file(with_probe.encode(), "visit.toml", shelf)
    at = case.visit.started_at + timedelta(minutes=40)
    moved = Move(
        id="m-1", heater=case.heater.id, part="part-1", kind=MoveKind.KEPT, at=at, price=Decimal("12.50"),
        why="to be on the safe side", condition="clean, 9.1 A",
    )  # fmt: skip
    done = StepDone(
        id="s-1", heater=case.heater.id, step="isolate", outcome=Outcome.DONE, at=at, state="dead"
    )
    skipped = StepDone(
        id="s-2", heater=case.heater.id, step="clean_tube", outcome=Outcome.NOT_DONE, at=at, reason="no brush"
    )
    told = replace(case, visit=replace(case.visit, moves=(moved,), steps=(done, skipped)))
    again = read_visit_file(write_visit_file(told), "again.toml", shelf)
    assert again.visit.moves == (moved,)
    assert again.visit.steps == (done, skipped)


def test_a_bad_value_deep_in_the_head_hides_no_other_fault(with_probe: str, shelf: Shelf) -> None:
    """And a reading's unit is told with those that are possible for it, not with every unit there is."""
    read = read_good_rows(with_probe.replace('unit = "degC"', 'unit = "furlong"').encode(), "v.toml", shelf)
    assert read.case is None
    told = [Speaker().say(each.message) for each in read.faults]
    assert len(told) == with_probe.count('unit = "degC"')
    assert sum(each.endswith("Possible: degC, degF, K.") for each in told) == len(told) - 1
    assert "“furlong” is not a unit this program knows" in told[0]

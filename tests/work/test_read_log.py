"""A logger's file: every way of telling time, units, bad rows with their numbers, and what refuses a file."""

from datetime import UTC, datetime

import numpy as np
import pytest

from lightoff.ground.errors import Refusal
from lightoff.terms.trace import Channel
from lightoff.texts import Speaker
from lightoff.work.read_log import LARGEST_BYTES, ReadLog, read_log

BEGAN = datetime(2026, 1, 5, 8, tzinfo=UTC)
GOOD = """# written by hand
time [UTC],stack temperature [degC],supply current [A],note
2026-01-05T08:00:00,61,0.3,rest
2026-01-05T08:00:10,62,9.5,glows
2026-01-05T08:00:20,190,6.9,burns
"""


def read(text: str, **more: object) -> ReadLog:
    return read_log(text.encode(), **more)  # type: ignore[arg-type]


def refused(text: str | bytes, **more: object) -> str:
    with pytest.raises(Refusal) as caught:
        read_log(text if isinstance(text, bytes) else text.encode(), **more)  # type: ignore[arg-type]
    return Speaker().say(caught.value.message)


def test_a_plain_file_is_read_with_its_units_best_evidence_first() -> None:
    log = read(GOOD)
    assert (log.began_at, log.row_count, log.bad_row_count) == (BEGAN, 3, 0)
    assert [each.channel for each in log.logged] == [Channel.SUPPLY_CURRENT, Channel.STACK_TEMPERATURE]
    np.testing.assert_allclose(log.logged[1].values, [334.15, 335.15, 463.15])
    np.testing.assert_allclose(log.logged[1].at_s, [0, 10, 20])


@pytest.mark.parametrize(
    "text",
    [
        GOOD.replace("T08", " 08"),
        GOOD.replace("[UTC]", "[+01:00]").replace("T08", "T09"),
        GOOD.replace(" [UTC]", "")
        .replace(":00,6", ":00Z,6")
        .replace(":10,", ":10Z,")
        .replace(":20,", ":20Z,"),
        GOOD.replace(",", ";").replace("0.3", "0,3"),
        GOOD.replace(",", "\t"),
        GOOD.replace("\n", "\r\n"),
        "\ufeff" + GOOD,
        GOOD.replace("stack temperature [degC]", "Stack_Temperature (°C)"),
        GOOD.replace("[degC]", "[degF]")
        .replace(",61,", ",141.8,")
        .replace(",62,", ",143.6,")
        .replace("190", "374"),
        GOOD.replace("rest", '"rest, and cold"'),
    ],
)
def test_the_same_log_written_otherwise_says_the_same(text: str) -> None:
    one, other = read(GOOD), read(text)
    assert one.began_at == other.began_at
    for mine, theirs in zip(one.logged, other.logged, strict=True):
        np.testing.assert_allclose(mine.values, theirs.values)
        np.testing.assert_allclose(mine.at_s, theirs.at_s)


def test_time_may_be_counted_from_a_start_told_in_the_file_or_beside_it() -> None:
    body = "time [min],burning\n0,0\n1,1\n2.5,0\n"
    told, beside = read("# start 2026-01-05T08:00:00Z\n" + body), read(body, start=BEGAN)
    assert told.began_at == beside.began_at == BEGAN
    assert told.logged[0].at_s.tolist() == [0.0, 60.0, 150.0]
    assert "Give the start" in refused(body)


def test_bad_rows_are_told_by_their_number_in_the_file_and_good_ones_kept() -> None:
    rows = [f"2026-01-05T08:{minute:02}:00,{60 + minute}" for minute in range(30)]
    rows[3] = "2026-01-05T08:03:00,hot"
    rows[5] = "2026-01-05T08:01:00,65"
    rows[8] = "last Tuesday,68"
    rows[11] = "2026-01-05T08:11:00,9999"
    rows[14] = "2026-01-05T08:14:00"
    rows[17] = "2026-01-05T08:17:00,nan"
    log = read("\n".join(["time [UTC],stack temperature [degC]", *rows]))
    said = [Speaker().say(each) for each in log.bad]
    assert (log.row_count, log.bad_row_count) == (24, 6)
    assert said == [
        "Row 5: “hot” is no number of stack temperature. Left out.",
        "Row 7: its time “2026-01-05T08:01:00” is not later than that of the row before. Left out.",
        "Row 10: “last Tuesday” is no time. Left out.",
        "Row 13: stack temperature cannot be “9999”. Left out.",
        "Row 16: 1 cells where 2 are needed. Left out.",
    ]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "The file is empty."),
        (" \n\n", "The file is empty."),
        (b"PK\x00\x01", "is no plain text"),
        ("hello\n", "names no columns"),
        ("when,stack [degC]\n1,2\n", "is called time"),
        ("time [moons],stack [degC]\n1,2\n", "“moons” is no way to tell time"),
        ("time [UTC],stack\n", "has no unit"),
        ("time [UTC],stack [kPa]\n", "which does not measure it"),
        ("time [UTC],stack [degK]\n", "degK"),
        ("time [UTC],stak temperature [degC]\n", "Is “stack temperature” meant?"),
        ("time [UTC],wind [m]\n", "is a channel. One must be called: burning, supply current"),
        ("time,burning\n2026-01-05T08:00:00,1\n", "has no zone"),
        ("time [UTC],burning\n2026-01-05T08:00:00,1\n", "Only 1 rows could be read"),
        (GOOD.replace("2026-", "x"), "Most rows could not be read: 3, against 0. Look"),
    ],
)
def test_what_is_no_log_is_refused_with_what_to_do(text: str | bytes, said: str) -> None:
    assert said in refused(text)


def test_a_file_that_is_too_large_is_refused_before_it_is_read() -> None:
    assert "it may have 40 MB at most" in refused(b"x" * (LARGEST_BYTES + 1))


def test_a_channel_is_chosen_by_name_and_a_missing_one_named() -> None:
    log = read(GOOD)
    assert log.of(None).channel is Channel.SUPPLY_CURRENT
    assert log.of(Channel.STACK_TEMPERATURE).channel is Channel.STACK_TEMPERATURE
    with pytest.raises(Refusal) as caught:
        log.of(Channel.BURNING)
    assert "It has: supply current, stack temperature." in Speaker().say(caught.value.message)

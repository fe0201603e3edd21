"""The page of a heater's running: a logger's file in, its burns out, and nothing lost on a bad one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from lightoff.demo.logs import invent_log
from lightoff.plant.phases import phases
from lightoff.work.keep_trace import conditions_of_a_log

if TYPE_CHECKING:
    from conftest import Bay

OWN = {"origin": "http://127.0.0.1"}
HEADER = "time [UTC],burning\n"


def url(bay: Bay, rest: str) -> str:
    return f"/heaters/{bay.ids['heater']}/{rest}"


def send(bay: Bay, data: bytes | str, **typed: str) -> tuple[int, str]:
    body = data.encode() if isinstance(data, str) else data
    answer = bay.client.post(url(bay, "logs"), files={"file": ("log.csv", body)}, data=typed, headers=OWN)
    return answer.status_code, answer.text


def burns(day: int, *, count: int = 6) -> str:
    """A day on which it burned a quarter of each hour."""
    rows = [HEADER]
    for minute in range(count * 60):
        hour, left = divmod(minute, 60)
        rows.append(f"2026-11-{day:02}T{hour:02}:{left:02}:00,{int(20 <= left < 35)}\n")
    return "".join(rows)


def test_without_meter_or_log_it_says_that_nothing_is_known(bay: Bay) -> None:
    text = bay.client.get(url(bay, "running")).text
    assert "How long it ran is not known" in text
    assert "No log yet." in text
    assert url(bay, "running") in bay.client.get(url(bay, "")[:-1]).text


def test_a_good_file_counts_from_now_on_and_comes_back_whole(bay: Bay) -> None:
    status, text = send(bay, burns(20))
    assert status == 200
    assert "burned 1.5 h" in text
    assert "6 starts" in text
    assert "by logs" in text
    (trace,) = bay.workshop.book.traces(bay.ids["heater"])
    assert (trace.starts, float(trace.burned_s)) == (6, 5400.0)
    assert bay.client.get(f"/logs/{trace.id}.csv").text == burns(20)
    assert "It started" in bay.client.get(url(bay, "")[:-1]).text


def test_the_same_file_twice_counts_once(bay: Bay) -> None:
    send(bay, burns(20))
    status, text = send(bay, burns(20))
    assert status == 422
    assert "This log stands with this heater already." in text
    assert len(bay.workshop.book.traces()) == 1


def test_bad_rows_are_told_and_the_good_ones_kept(bay: Bay) -> None:
    status, text = send(bay, burns(20).replace("T02:20:00,1", "T02:20:00,perhaps"))
    assert status == 200
    assert "Row 142: “perhaps” does not say whether it burned" in text
    assert len(bay.workshop.book.traces()) == 1


def test_a_file_that_is_no_log_keeps_nothing_and_what_was_typed(bay: Bay) -> None:
    for data, said in (
        (b"", "The file is empty."),
        (b"\x89PNG\0\0", "is no plain text"),
        (b"time [UTC],stack [kPa]\n", "does not measure it"),
        (b"time [s],burning\n0,1\n1,0\n2,1\n", "Give the start"),
        (burns(20).encode(), "It has: burning."),
    ):
        status, text = send(bay, data, channel="stack temperature")
        assert status == 422
        assert said in text
        assert "selected>Stack temperature" in text
    status, text = send(bay, burns(20).replace("-11-", "-12-"))
    assert (status, "which lies ahead" in text) == (422, True)
    assert bay.workshop.book.traces() == ()
    assert bay.workshop.book.check().counts["photo_bytes"] == 0


def test_no_file_and_a_huge_one_are_answered_in_a_sentence(bay: Bay) -> None:
    answer = bay.client.post(url(bay, "logs"), data={"start": "yesterday"}, headers=OWN)
    assert answer.status_code == 422
    assert "Choose the logger&#39;s file first." in answer.text
    status, text = send(bay, b"x" * 41_000_000)
    assert status == 413
    assert "40 MB" in text


def test_counted_time_begins_where_it_is_said(bay: Bay) -> None:
    body = "time [min],burning\n" + "".join(f"{each},{int(each > 9)}\n" for each in range(60))
    status, _ = send(bay, body, start="2026-11-20 08:00")
    assert status == 200
    (trace,) = bay.workshop.book.traces()
    assert trace.began_at.isoformat() == "2026-11-20T08:00:00+00:00"
    status, text = send(bay, body, start="yesterday")
    assert status == 422
    assert "“yesterday” is no time" in text


def test_a_log_taken_back_counts_no_more(bay: Bay) -> None:
    send(bay, burns(20))
    (trace,) = bay.workshop.book.traces()
    answer = bay.client.post(f"/logs/{trace.id}/take-back", headers=OWN)
    assert answer.status_code == 200
    assert "No log yet." in answer.text
    assert bay.workshop.book.traces() == ()
    assert send(bay, burns(20))[0] == 200  # and may be told again


def test_a_logger_on_stack_and_current_is_read_by_the_current(bay: Bay) -> None:
    sheet = bay.workshop.shelf.sheets["generic_12_kw"]
    levels = phases(sheet, conditions_of_a_log(bay.workshop.shelf))
    began = bay.clock().replace(day=20)
    log = invent_log(np.random.default_rng(3), sheet, levels, began_at=began, days=0.5)
    status, text = send(bay, log.written())
    assert status == 200
    assert "supply&#39;s current" in text
    (trace,) = bay.workshop.book.traces()
    assert trace.starts == len(log.lit_s)
    truth = sum(log.out_s) - sum(log.lit_s)
    assert float(trace.burned_low_s) <= truth <= float(trace.burned_high_s)


def written(rows: list[tuple[float, float]]) -> str:
    """Supply's current by seconds, as a file."""
    lines = [f"{at:.0f},{ampere:.2f}" for at, ampere in rows]
    return "# start 2026-11-18T08:00:00Z\ntime [s],supply current [A]\n" + "\n".join(lines) + "\n"


def test_a_logs_starts_stand_in_the_drift_and_spoiled_ones_are_told(bay: Bay) -> None:
    """Four starts that light at once, one at its second try, one with rows missing."""
    levels = phases(bay.workshop.shelf.sheets["generic_12_kw"], conditions_of_a_log(bay.workshop.shelf))
    igniter_a = levels.trial_a - levels.running_a
    rows, at = list[tuple[float, float]](), 0.0
    for start in range(6):
        failed = [(20, levels.igniting_a), (20, levels.trial_a), (20, levels.after_run_a)]
        lights = [(25, levels.igniting_a), (20, levels.trial_a), (600, levels.running_a)]
        course = [*(failed if start == 4 else []), *lights, (180, levels.after_run_a)]
        for lasts, ampere in [(300, levels.rest_a), *course]:
            for _ in range(lasts // 5):
                rows.append((at, ampere))
                at += 5.0
    bay.start_visit()  # which says where it stands
    holed = [each for each in rows if not 5 * 1125 + 350 < each[0] < 5 * 1125 + 400]
    status, text = send(bay, written(holed))
    assert status == 200
    assert "igniter to the flame: 4, 45 seconds on average" in text
    assert f"by 4 of them: {igniter_a:.1f} A on average" in text
    assert "more than one try led to the flame: 1." in text
    assert "rows are missing around the start or its beginning lies outside the log: 1." in text
    drift = bay.client.get(url(bay, "drift")).text
    for key in ("igniter_current", "time_to_light"):
        assert f'id="{key}"' in drift
    assert drift.count("a log about") == 2
    assert "mean of 4" in drift


def test_a_logger_that_writes_too_seldom_is_told_so(bay: Bay) -> None:
    sheet = bay.workshop.shelf.sheets["generic_12_kw"]
    levels = phases(sheet, conditions_of_a_log(bay.workshop.shelf))
    began = bay.clock().replace(day=20)
    log = invent_log(np.random.default_rng(3), sheet, levels, began_at=began, days=0.2)
    status, text = send(bay, log.written())
    assert status == 200
    assert "Let it write every 12 seconds or oftener." in text
    refused = "time [s],igniter current [A]\n" + "".join(f"{each},0.1\n" for each in range(9))
    status, text = send(bay, "# start 2026-11-18T08:00:00Z\n" + refused)
    assert status == 422
    assert "One must be called: burning, supply current" in text

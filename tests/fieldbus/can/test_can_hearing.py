"""What every ear on CAN counts, and the lines that every family has."""

from __future__ import annotations

from typing import Any

import pytest

from labkit.fieldbus.agreement import MOST_UNPLANNED, Agreement, stranger_lines
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.hearing import (
    HeardTotals,
    LogHearing,
    count_of,
    error_lines,
    rate_line,
)
from labkit.fieldbus.can.log_reading import Logged
from labkit.fieldbus.errors import PlanError

FRAME = Frame(5, b"\0")


class Counts:
    """An ear that only counts."""

    def __init__(self) -> None:
        self.totals = HeardTotals()

    @property
    def heard(self) -> Counts:
        return self

    def hear(self, logged: Logged) -> None:
        self.totals.take(logged)

    def to_json(self) -> dict[str, Any]:
        return self.totals.totals()


def taken(*logged: Logged) -> HeardTotals:
    totals = HeardTotals()
    for each in logged:
        totals.take(each)
    return totals


def test_time_runs_from_the_first_to_the_latest_and_is_told_to_the_millisecond() -> None:
    totals = taken(Logged(100, FRAME), Logged(101.23456, None), Logged(100.5, FRAME))
    assert totals.totals() == {
        "frames": 2,
        "seconds": 1.235,
        "errors": 1,
        "unacknowledged": 0,
        "foreign": 0,
    }


def test_a_frame_that_nobody_acknowledged_is_no_error_frame() -> None:
    totals = taken(Logged(0, None, unacknowledged=True))
    assert (totals.frames, totals.errors, totals.unacknowledged) == (0, 0, 1)


def test_the_frame_is_handed_on() -> None:
    assert HeardTotals().take(Logged(0, FRAME)) is FRAME
    assert HeardTotals().take(Logged(0, None)) is None


def test_what_was_kept_is_read_back_and_equal() -> None:
    totals = taken(Logged(7, FRAME), Logged(9, None))
    again = HeardTotals()
    again.read_totals({**totals.totals(), "foreign": 3})
    assert again != totals
    totals.foreign = 3
    assert again == totals


@pytest.mark.parametrize("wrong", [-1, 10**9 + 1, 1.5, "1", True])
def test_a_number_of_frames_is_whole_and_of_some_size(wrong: object) -> None:
    with pytest.raises(PlanError, match="number of frames"):
        count_of(wrong)


@pytest.mark.parametrize("right", [0, 10**9])
def test_none_and_very_many_may_be(right: int) -> None:
    assert count_of(right) == right


def test_a_last_line_without_its_end_is_heard_too() -> None:
    hearing = LogHearing(Counts())
    hearing.feed(b"(1.0) can0 005#00\n(2.0) can0 005#")
    assert hearing.so_far["frames"] == 1
    hearing.feed(b"00")
    hearing.end()
    assert hearing.so_far == {**HeardTotals().totals(), "frames": 2, "seconds": 1.0}


def test_a_log_without_any_is_refused() -> None:
    hearing = LogHearing(Counts())
    hearing.feed(b"rubbish\n")
    with pytest.raises(PlanError):
        hearing.end()
    assert hearing.remarks == ["1 line could not be read; the first: rubbish"]


def test_what_comes_live_may_be_longer_than_a_file(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("labkit.fieldbus.text_lines.MOST_BYTES", 100)
    lines = b"(1.0) can0 005#00\n" * 10
    with pytest.raises(PlanError, match="larger than"):
        LogHearing(Counts()).feed(lines)
    hearing = LogHearing(Counts(), endless=True)
    hearing.feed(lines)
    assert hearing.so_far["frames"] == 10


def test_no_log_states_its_rate() -> None:
    line = rate_line(125, 10)
    assert (line.what, line.planned, line.agreement) == (
        "data rate",
        "125 kbit/s",
        Agreement.UNTOLD,
    )
    assert line.heard.startswith("a log states none")
    assert rate_line(125, 0).heard.startswith("no frame was read")


@pytest.mark.parametrize(
    ("errors", "unacknowledged", "said"),
    [
        (0, 0, [("error frames", "none in this log; not every logger writes them", "UNTOLD")]),
        (1, 0, [("error frames", "1 error frame", "DIFFERS")]),
        (
            0,
            2,
            [
                (
                    "frames that nobody acknowledged",
                    "2 times: the sender was alone at its rate",
                    "DIFFERS",
                )
            ],
        ),
    ],
)
def test_errors_are_told_and_their_absence_says_little(
    errors: int, unacknowledged: int, said: list[tuple[str, str, str]]
) -> None:
    lines = error_lines(errors, unacknowledged)
    assert [(line.what, line.heard, line.agreement.name) for line in lines] == said


def test_both_are_told() -> None:
    assert len([*error_lines(1, 1)]) == 2


def test_strangers_are_told_in_order_each_up_to_so_many() -> None:
    heard = {at: at + 1 for at in range(MOST_UNPLANNED, 0, -1)}
    lines = [*stranger_lines(heard, "node addresses")]
    assert [line.what for line in lines] == [f"node {at}" for at in range(1, MOST_UNPLANNED + 1)]
    assert lines[0].heard == "sends: 2 frames"
    *lines, last = stranger_lines({**heard, 40: 1, 30: 1}, "node addresses")
    assert len(lines) == MOST_UNPLANNED == 8
    assert (last.what, last.heard) == ("2 more node addresses", "nodes 30, 40 send too")
    assert {line.agreement for line in (*lines, last)} == {Agreement.DIFFERS}
    assert {line.planned for line in (*lines, last)} == {"nobody"}

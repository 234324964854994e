"""One clock stamps everything, and its times are read back as they were written."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from set_clock import SetClock

import labkit
from labkit.exchange.clock import CLOCK, read_moment, written
from labkit.exchange.journal import ANSWER, Journal

_OTHER_CLOCKS = re.compile(r"\.(now|utcnow|today|localtime|gmtime)\(")

_NO_CLOCKS = re.compile(r"CLOCK\.now\(\)|\b(page|self)\.now\(\)")
"""The clock, and how a page of an exercise stands now."""


def test_nothing_but_the_clock_asks_what_time_it_is() -> None:
    root = Path(labkit.__file__).parent
    found = {
        f"{file.relative_to(root)}: {line.strip()}"
        for file in root.rglob("*.py")
        for line in file.read_text(encoding="utf-8").splitlines()
        if _OTHER_CLOCKS.search(_NO_CLOCKS.sub("", line))
    }
    assert found == {"exchange/clock.py: return datetime.now(UTC)"}


def test_what_a_test_sets_is_what_is_stamped(tmp_path: Path, clock: SetClock) -> None:
    clock.set("2031-02-03T04:05:06Z")
    assert CLOCK.now() == "2031-02-03T04:05:06Z"
    assert Journal(tmp_path / "j").append(ANSWER)["at"] == "2031-02-03T04:05:06Z"


def test_the_clock_goes_when_nobody_set_it() -> None:
    before = datetime.now(UTC)
    assert before <= CLOCK.moment() <= datetime.now(UTC)


def test_a_time_that_was_written_is_read_back() -> None:
    moment = datetime(2026, 11, 20, 16, 30, 5, tzinfo=UTC)
    assert written(moment) == "2026-11-20T16:30:05Z"
    assert read_moment(written(moment)) == moment


@pytest.mark.parametrize(
    "text", [None, 7, [], "", "soon", "2026-11-20", "2026-13-20T16:30:05Z", "2026-11-20T16:30:05"]
)
def test_what_is_no_such_time_is_none(text: Any) -> None:
    assert read_moment(text) is None

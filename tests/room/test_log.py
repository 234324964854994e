"""The room's log: on disk before it holds, and a room that is opened again goes on from it."""

from __future__ import annotations

import os
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from set_clock import SetClock

from labkit.classroom.room_entries import RELEASED
from labkit.exchange.clock import read_moment
from labkit.room.log import CLOSED, EXTRA, HANDED_IN, OPENED, SEAT, TIME, RoomLog, State
from labkit.room.messages import MESSAGE, READ, TAKEN_BACK
from labkit.room.pauses import GONE_ON, PAUSED


def test_a_log_that_is_opened_again_says_the_same(tmp_path: Path) -> None:
    log = RoomLog(tmp_path / "room.jsonl")
    log.add(OPENED, "Mira", lab="acceptance")
    log.add(CLOSED, "Mira", lab="plan")
    log.add(TIME, "Mira", lab="acceptance", until="2026-11-29T14:00:00Z")
    log.add(EXTRA, "Mira", lab="acceptance", trainee="", minutes=5)
    log.add(EXTRA, "Mira", lab="acceptance", trainee="ann", minutes=10)
    log.add(EXTRA, "Mira", lab="acceptance", trainee="ann", minutes=10)
    log.add(RELEASED, "Mira", lab="plan")
    log.add(SEAT, "ann", trainee="ann", address="192.0.2.7")
    log.add(SEAT, "ann", trainee="ann", address="192.0.2.8")
    log.add(HANDED_IN, "ann", workbook="w1", lab="plan", code="AB-CD")
    again = RoomLog(tmp_path / "room.jsonl").state
    assert again == log.state
    assert again.open == {"acceptance": True, "plan": False}
    assert again.until == {"acceptance": read_moment("2026-11-29T14:00:00Z")}
    assert again.extra == {
        ("acceptance", ""): timedelta(minutes=5),
        ("acceptance", "ann"): timedelta(minutes=20),
    }
    assert again.released == {"plan"}
    assert again.seats == {"ann": 2}
    assert again.handed_in["w1"][0] == "AB-CD"


def test_a_line_that_a_power_cut_tore_costs_only_itself(tmp_path: Path) -> None:
    RoomLog(tmp_path / "room.jsonl").add(OPENED, "Mira", lab="one")
    with (tmp_path / "room.jsonl").open("ab") as file:
        file.write(b'{"act": "opened", "lab": "tw')
    RoomLog(tmp_path / "room.jsonl").add(OPENED, "Mira", lab="three")
    assert RoomLog(tmp_path / "room.jsonl").state.open == {"one": True, "three": True}


def test_what_cannot_be_kept_does_not_hold(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    log = RoomLog(tmp_path / "room.jsonl")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        log.add(OPENED, "Mira", lab="one")
    assert log.state.open == {}


def test_nobody_else_may_read_it(tmp_path: Path) -> None:
    log = RoomLog(tmp_path / "room" / "room.jsonl")
    log.add(SEAT, "ann", trainee="ann")
    assert (tmp_path / "room" / "room.jsonl").stat().st_mode & 0o077 == 0
    assert (tmp_path / "room").stat().st_mode & 0o077 == 0


def test_when_a_lab_was_opened_is_known(tmp_path: Path, clock: SetClock) -> None:
    clock.set("2026-11-29T13:00:00Z")
    log = RoomLog(tmp_path / "room.jsonl")
    log.add(OPENED, "Mira", lab="one")
    assert log.state.opened_at == {"one": read_moment("2026-11-29T13:00:00Z")}


_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=6,
)


@given(
    st.dictionaries(
        st.sampled_from(
            [
                "act",
                "lab",
                "trainee",
                "until",
                "minutes",
                "at",
                "workbook",
                "code",
                "labs",
                "message",
            ]
        ),
        _JSON
        | st.sampled_from([OPENED, CLOSED, TIME, EXTRA, RELEASED, SEAT, HANDED_IN])
        | st.sampled_from([PAUSED, GONE_ON, MESSAGE, READ, TAKEN_BACK, "2026-11-29T14:00:00Z"]),
    )
)
def test_an_entry_of_any_form_is_taken_or_passed_over(entry: dict[str, object]) -> None:
    State().take(entry)

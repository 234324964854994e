"""`labkit host`: sentences where no room can be held, and the square code of a terminal."""

from __future__ import annotations

import io
import re
import sys
from pathlib import Path

import pytest
import segno
from labkit_here import fails, labkit
from tiny_class import MakeRoom

from labkit.cli.room import _show_square

BLOCKS = {" ": (1, 1), "▀": (0, 1), "▄": (1, 0), "█": (0, 0)}
"""Dark above and below, as half blocks of the light modules show it."""


class Terminal(io.StringIO):
    encoding = "utf-8"

    def isatty(self) -> bool:
        return True


def test_what_cannot_be_held_gets_a_sentence(tmp_path: Path) -> None:
    assert "Name the class" in fails("host", cwd=tmp_path)
    assert "is not a class folder" in fails("host", ".", cwd=tmp_path)
    assert "no address or interface “192.0.2.77”" in fails(
        "host", "--check", "--interface", "192.0.2.77", cwd=tmp_path
    )
    assert "No other device can reach" in fails(
        "host", "--check", "--interface", "127.0.0.1", cwd=tmp_path
    )
    assert list(tmp_path.iterdir()) == []


def test_dealing_says_what_is_given_out_and_what_is_held_here(make_room: MakeRoom) -> None:
    room = make_room("ann,Ann Orrel")
    room.library.rename(room.path / "labs")
    on_laptops = labkit("deal", ".", cwd=room.path).stdout
    assert "Give each trainee their folder" in on_laptops
    assert "labkit host" not in on_laptops
    late = labkit("deal", ".", "--late", "dee", "Dee Quist", cwd=room.path).stdout
    assert "Dee Quist (dee) is in roster.csv now." in late
    assert "1 dealt, 1 were dealt already." in late
    assert "is there already" in fails("deal", ".", "--late", "dee", "Dee Q.", cwd=room.path)
    room.write_class(held="room")
    in_room = labkit("deal", ".", cwd=room.path).stdout
    assert "Held on this machine alone:" in in_room
    assert "labkit host ." in in_room
    assert "Give each trainee their folder" not in in_room
    assert "Put what comes back" not in in_room
    retake = labkit("deal", ".", "--again", "ann", cwd=room.path).stdout
    assert "Give out" not in retake
    assert "labkit host ." in retake


def test_a_terminal_shows_the_address_as_a_square_code(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = Terminal()
    monkeypatch.setattr(sys, "stdout", terminal)
    _show_square("http://192.0.2.7:8642")
    lines = re.sub(r"\033\[[\d;]*m", "", terminal.getvalue()).splitlines()
    # White on black whatever the terminal's colours: a camera wants it dark on light.
    assert all(line.startswith("\033[97;40m") for line in terminal.getvalue().splitlines())
    rows = [[BLOCKS[char][half] for char in line] for line in lines for half in (0, 1)]
    code = segno.make("http://192.0.2.7:8642", micro=False)
    drawn = [list(row) for row in code.matrix_iter(border=4)]
    assert rows[: len(drawn)] == drawn


def test_where_no_square_can_be_shown_there_is_none(capsys: pytest.CaptureFixture[str]) -> None:
    _show_square("http://192.0.2.7:8642")
    assert capsys.readouterr().out == ""

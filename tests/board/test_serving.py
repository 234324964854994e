"""`labkit board` as a command: where it opens, what is proposed, what ends with it."""

from __future__ import annotations

import json
import re
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from http.cookiejar import CookieJar
from pathlib import Path
from typing import Any
from urllib.request import HTTPCookieProcessor, Request, build_opener, urlopen

import pytest
from tiny_class import MakeRoom

from labkit.page.serving import first_free, listening


class _Board:
    """A board that runs, and a browser that is signed in there."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        assert process.stdout is not None
        self.process = process
        found = re.search(r"http://\S+", process.stdout.readline())
        assert found is not None
        self.opened = found[0]
        self.here = self.opened[: self.opened.index("/", 8)]
        self._open = build_opener(HTTPCookieProcessor(CookieJar())).open
        self.post("/sign-in", {"key": self.opened.partition("#")[2], "name": "Mira"})

    def get(self, path: str) -> Any:
        with self._open(self.here + path, timeout=60) as answer:
            return json.loads(answer.read())

    def post(self, path: str, said: object) -> Any:
        asked = Request(self.here + path, json.dumps(said).encode(), {"origin": self.here})
        with self._open(asked, timeout=60) as answer:
            return json.loads(answer.read())


@contextmanager
def running(folder: Path) -> Iterator[_Board]:
    command = [sys.executable, "-m", "labkit", "board", str(folder), "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        try:
            yield _Board(process)
        finally:
            process.kill()


@pytest.mark.skipif(sys.platform == "win32", reason="another way to press Ctrl+C")
def test_the_command_opens_a_class_and_its_rooms_end_with_it(make_room: MakeRoom) -> None:
    room = make_room()
    room.deal()
    with running(room.path) as board:
        assert "/class/class/#" in board.opened
        assert [one["name"] for one in board.get("/classes")["classes"]] == ["class"]
        held = board.post("/class/class/open-room", {"interface": "127.0.0.1"})["room"]
        with urlopen(held["address"], timeout=60) as page:
            assert page.status == 200
        board.process.send_signal(signal.SIGINT)
        assert board.process.wait(timeout=60) in {0, 130}
        with pytest.raises(OSError, match="refused"):
            urlopen(held["address"], timeout=60)


def test_a_folder_that_is_not_there_is_one_without_classes(tmp_path: Path) -> None:
    with running(tmp_path / "not there") as board:
        assert board.get("/classes")["classes"] == []
    assert list(tmp_path.iterdir()) == []


def test_a_port_that_somebody_has_is_passed_over() -> None:
    with listening("127.0.0.1", 0) as made:
        taken = made.getsockname()[1]
        found = first_free("127.0.0.1", taken)
        assert found > taken
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", found))

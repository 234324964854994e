"""The room's benches are played in processes of their own, and what was played is kept."""

from __future__ import annotations

from pathlib import Path

import psutil
import pytest
from by_protocol import Server, Step, Trainee, run_apart

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import deal
from labkit.room.room import Room

LIBRARY = Path(__file__).parents[1] / "lab" / "labs"
LAB, EXERCISE = "find-and-wire", "quiet-line"


def players(server: Server) -> list[psutil.Process]:
    found: list[psutil.Process] = psutil.Process(server.pid).children(recursive=True)
    return found


def all_end(processes: list[psutil.Process]) -> bool:
    _, alive = psutil.wait_procs(processes, timeout=120)
    return not alive


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    path = tmp_path / "class"
    path.mkdir()
    (path / "class.yaml").write_text(f"id: c\ntitle: C\nlabs: [{LAB}]\nmode: practice\n")
    (path / "roster.csv").write_text("id,name\nann,Ann Orr\n")
    deal(ClassFolder.open(path), LIBRARY)
    return ClassFolder.open(path)


def test_what_a_room_plays_outlives_it_and_who_plays_does_not(folder: ClassFolder) -> None:
    [code] = Room(folder).on_cards.values()
    server = Server(folder.path)
    try:
        one = Trainee(server.address, code, LAB)
        run_apart(one.join())
        assert players(server) == []
        run_apart(one.work([(EXERCISE, Step({"kind": "indicators"}), 0.0)]))
        before = run_apart(one.shown(EXERCISE))
        left = players(server)
        assert len(left) == 1
        server.kill()
        assert all_end(left)
        [kept] = (folder.played / "ann").iterdir()
        assert kept.name == f"{LAB}.{EXERCISE}.played.json"
        assert kept.stat().st_mode & 0o077 == 0
        server = Server(folder.path, server.port)
        assert run_apart(one.shown(EXERCISE)) == before
        assert players(server) == []
        run_apart(one.work([(EXERCISE, Step({"kind": "power off"}), 0.0)]))
        left = players(server)
        assert len(left) == 1
        server.end()
        assert all_end(left)
    finally:
        server.kill()
    log = log_of_the_journal(folder)
    assert [entry["kind"] for entry in log] == ["indicators", "power off"]


def log_of_the_journal(folder: ClassFolder) -> list[dict[str, str]]:
    """The log of the bench, played in this process from the journal alone."""
    room = Room(folder)
    shown = room.workbooks.opened(room.workbooks.items["ann", LAB]).desk.shown(EXERCISE)
    assert shown
    log: list[dict[str, str]] = shown["view"]["state"]["log"]
    return log

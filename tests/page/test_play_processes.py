"""Benches are played in processes of their own: whatever happens to one, nothing is lost, and none
stays."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import psutil
import pytest
from desks import entries, reply, said, scenario, task

from labkit.answering.played import NOT_PLAYED
from labkit.doors.page import NotPlayedError
from labkit.kinds.diagnosis.playing import Asked, played
from labkit.page import play_processes
from labkit.page.desk import Desk
from labkit.page.kept_plays import WorkbookPlays
from labkit.page.play_processes import ENDED, TOO_LONG, PlayProcesses
from labkit.page.sheet import sheet_of

LAB, EXERCISE = "bring-up", "first-fault"
POSIX = pytest.mark.skipif(os.name != "posix", reason="a process is stopped by a signal")


@pytest.fixture
def processes() -> Iterator[PlayProcesses]:
    made = PlayProcesses()
    yield made
    made.close()


def asked(*steps: Any) -> Asked:
    drawn = scenario(LAB)
    [exercise] = [each for each in drawn.lab.exercises if each.id == EXERCISE]
    prepared = drawn.prepare(exercise)
    return {
        "bench": {
            "setup": prepared.ask["setup"],
            "faults": prepared.key["faults"],
            "power": True,
            "costs": {},
            "assessed": False,
        },
        "steps": list(steps),
    }


def desk(folder: Path, processes: PlayProcesses) -> Desk:
    """A practice workbook whose benches are played apart; nothing of it is kept."""
    plays = WorkbookPlays(processes, folder, lambda *_: None, "w")
    drawn = scenario(LAB)
    return Desk(task(drawn), folder / "w.task.json", sheet_of(drawn), plays=plays)


def stands(*steps: Any) -> Any:
    return json.loads(json.dumps(played(asked(*steps))))


def gone(pid: int) -> bool:
    for _ in range(2_000):
        if not psutil.pid_exists(pid) or psutil.Process(pid).status() == psutil.STATUS_ZOMBIE:
            return True
        time.sleep(0.05)
    return False


def test_none_is_started_before_it_is_needed_and_none_is_left(processes: PlayProcesses) -> None:
    assert processes.pids == []
    off = {"kind": "power off"}
    assert processes.play("diagnosis", asked(off)) == stands(off)
    [pid] = processes.pids
    again = asked(off, {"kind": "power on"})
    assert processes.play("diagnosis", again) == stands(off, {"kind": "power on"})
    assert processes.pids == [pid]
    processes.close()
    assert processes.pids == []
    assert gone(pid)
    with pytest.raises(NotPlayedError, match="stopped in the middle"):
        processes.play("diagnosis", again)


@POSIX
def test_a_step_comes_out_all_the_same_when_its_process_is_killed_in_the_middle(
    processes: PlayProcesses, tmp_path: Path
) -> None:
    at_work = desk(tmp_path, processes)
    at_work.shown(EXERCISE)
    [pid] = processes.pids
    os.kill(pid, signal.SIGSTOP)
    with ThreadPoolExecutor(1) as one:
        step = {"kind": "indicators"}
        hearing = one.submit(reply, at_work, said(EXERCISE, "step", "t1", step=step))
        while [entry["event"] for entry in entries(tmp_path)][-1] != "step":
            time.sleep(0.01)
        assert not hearing.done()
        os.kill(pid, signal.SIGKILL)
        heard = hearing.result(timeout=120)
    here = stands({"kind": "indicators", "seconds": 6.0})
    assert heard["reply"]["entry"] == here["last"]
    assert heard["reply"]["state"] == here["state"]
    assert pid not in processes.pids


@POSIX
def test_a_play_that_takes_too_long_ends_with_a_sentence_and_the_step_is_on_disk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    processes = PlayProcesses()
    at_work = desk(tmp_path, processes)
    at_work.shown(EXERCISE)
    monkeypatch.setattr(processes._usual[0], "_at_most_s", 0.3)
    monkeypatch.setattr(processes, "_usual", processes._usual[:1])
    [pid] = processes.pids
    os.kill(pid, signal.SIGSTOP)
    heard = reply(at_work, said(EXERCISE, "step", "t1", step={"kind": "power off"}))
    assert heard == {"token": "t1", "saved": True, "failed": TOO_LONG}
    assert gone(pid)
    assert entries(tmp_path)[-1]["step"] == {"kind": "power off"}
    monkeypatch.setattr(processes._usual[0], "_at_most_s", 60)
    # On the same page, and on one that is opened anew.
    heard = reply(at_work, said(EXERCISE, "step", "t2", step={"kind": "power on"}))
    kinds = [entry["kind"] for entry in heard["reply"]["state"]["log"]]
    assert kinds == ["power off", "power on"]
    shown = desk(tmp_path, processes).shown(EXERCISE)
    assert shown
    assert shown["view"]["state"] == heard["reply"]["state"]
    processes.close()


def test_processes_that_end_again_and_again_are_told_in_a_sentence(
    processes: PlayProcesses, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    at_work = desk(tmp_path, processes)
    with monkeypatch.context() as patch:
        patch.setattr(play_processes, "_BEGIN", "raise SystemExit")
        heard = reply(at_work, said(EXERCISE, "step", "t1", step={"kind": "power off"}))
        assert heard == {"token": "t1", "saved": True, "failed": ENDED}
    shown = at_work.shown(EXERCISE)
    assert shown
    assert [entry["kind"] for entry in shown["view"]["state"]["log"]] == ["power off"]


def test_what_goes_wrong_there_says_nothing_of_the_bench(processes: PlayProcesses) -> None:
    question = asked()
    question["bench"]["faults"] = [{"kind": "hidden fault"}]
    with pytest.raises(NotPlayedError) as told:
        processes.play("diagnosis", question)
    assert str(told.value) == NOT_PLAYED
    with pytest.raises(NotPlayedError):
        processes.play("choice", question)
    # And goes on.
    assert processes.play("diagnosis", asked()) == stands()


_HOST = """
import json, sys, time
from labkit.page.play_processes import PlayProcesses
processes = PlayProcesses()
processes.play("diagnosis", json.loads(sys.argv[1]))
print(*processes.pids, flush=True)
processes.play("diagnosis", json.loads(sys.argv[2]))
time.sleep(60)
"""


def test_a_host_that_is_killed_leaves_none_behind() -> None:
    questions = [json.dumps(asked()), json.dumps(asked({"kind": "indicators", "seconds": 20.0}))]
    with subprocess.Popen(
        [sys.executable, "-c", _HOST, *questions], stdout=subprocess.PIPE
    ) as host:
        assert host.stdout
        pid = int(host.stdout.readline())
        assert psutil.pid_exists(pid)
        host.kill()
    assert gone(pid)

"""What was played is kept: after a restart a bench opens without being played again, and shows the
same. A file that is not whole, or not of this bench, is as good as none."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from desks import LABS, as_json, lab, reply, said, scenario, task

from labkit.answering.played import asked_line, read_told, told_line
from labkit.bench import front
from labkit.doors.installed import check_for
from labkit.families.devicenet.bench.measurements import Indicators
from labkit.kinds.diagnosis import playing
from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab
from labkit.page import kept_plays
from labkit.page.desk import Desk
from labkit.page.kept_plays import KEPT_ENDING, WorkbookPlays
from labkit.page.play_processes import PlayProcesses
from labkit.page.sheet import sheet_of

LAB, EXERCISE = "bring-up", "first-fault"
FIND_AND_WIRE = Path(__file__).parents[1] / "lab" / "labs" / "find-and-wire" / "lab.md"
WITH_BENCHES = sorted(n for n, f in LABS.items() if "kind: diagnosis" in f.read_text("utf-8"))


class Here(PlayProcesses):
    """What passes between two processes, in this one; `asked` counts."""

    asked = 0

    def play(self, kind: str, asked: Any, known: Any = None, **_: Any) -> dict[str, Any]:
        self.asked += 1
        return read_told(told_line(asked_line(kind, asked, known)))


def opened(
    folder: Path,
    processes: PlayProcesses,
    *,
    practice: bool = True,
    name: str = LAB,
    drawn: Scenario | None = None,
) -> Desk:
    """A workbook, or the same after a restart: nothing is remembered."""
    playing._benches.clear()
    plays = WorkbookPlays(processes, folder, lambda n, data: (folder / n).write_bytes(data), "w")
    drawn = drawn or scenario(name)
    made = task(drawn, practice=practice)
    return Desk(made, folder / "w.task.json", sheet_of(drawn), lab=drawn.lab, plays=plays)


def worked(desk: Desk, exercise: str = EXERCISE) -> str:
    """Some steps at a bench, with one that makes no sense; what it shows then, as text."""
    shown = desk.shown(exercise)
    assert shown
    ends = {"a": f"{shown['view']['scanner']}/4", "b": f"{shown['view']['scanner']}/2"}
    kinds = ("power off", {"kind": "ohms", **ends}, "dance", "power on", "indicators")
    for number, kind in enumerate(kinds):
        step = kind if isinstance(kind, dict) else {"kind": kind}
        reply(desk, said(exercise, "step", f"t{number}", step=step))
    return as_json(desk.shown(exercise))


@pytest.mark.parametrize("practice", [True, False], ids=["practice", "assessed"])
@pytest.mark.parametrize("name", WITH_BENCHES)
def test_after_a_restart_every_bench_of_every_lab_shows_the_same_and_none_is_played(
    name: str, practice: bool, tmp_path: Path
) -> None:
    benches = [each.id for each in lab(name).exercises if each.kind == "diagnosis"]
    desk = opened(tmp_path, Here(), practice=practice, name=name)
    before = {exercise: worked(desk, exercise) for exercise in benches}
    again = Here()
    desk = opened(tmp_path, again, practice=practice, name=name)
    assert {exercise: as_json(desk.shown(exercise)) for exercise in benches} == before
    assert again.asked == 0
    # What is kept says no more than what was shown: which faults there are stands nowhere in it.
    drawn = scenario(name)
    for exercise in drawn.lab.exercises:
        if exercise.id in benches:
            kept = (tmp_path / f"w.{exercise.id}{KEPT_ENDING}").read_text()
            prepared = drawn.prepare(exercise)
            assert prepared.key["faults"]
            assert not any(json.dumps(fault) in kept for fault in prepared.key["faults"])
            assert set(json.loads(kept)) == {"of", "sum", "told"}
            assert set(json.loads(kept)["told"]) == {"steps", "state", "last", "failed"}


def cut(kept: bytes) -> bytes:
    return kept[: len(kept) // 2]


def changed(kept: bytes) -> bytes:
    """Another reading, in a file that can be read."""
    assert b'"green"' in kept
    return kept.replace(b'"green"', b'"red"')


def of_no_sense(_: bytes) -> bytes:
    return b"[" * 100_000


def with_another_shape(kept: bytes) -> bytes:
    return json.dumps({**json.loads(kept), "told": []}).encode()


@pytest.mark.parametrize("damage", [cut, changed, of_no_sense, with_another_shape])
def test_a_file_that_is_damaged_is_played_again(
    damage: Callable[[bytes], bytes], tmp_path: Path
) -> None:
    before = worked(opened(tmp_path, Here()))
    file = tmp_path / f"w.{EXERCISE}{KEPT_ENDING}"
    whole = file.read_bytes()
    file.write_bytes(damage(whole))
    again = Here()
    assert as_json(opened(tmp_path, again).shown(EXERCISE)) == before
    assert again.asked == 1
    assert file.read_bytes() == whole


def test_what_another_labkit_or_another_bench_left_is_not_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = worked(opened(tmp_path, Here()))
    with monkeypatch.context() as patch:
        patch.setattr(kept_plays, "__version__", "0.0.0")
        other = Here()
        assert as_json(opened(tmp_path, other).shown(EXERCISE)) == before
        assert other.asked == 1
    # The journal went on elsewhere.
    file = tmp_path / f"w.{EXERCISE}{KEPT_ENDING}"
    worked(opened(tmp_path, Here()))
    older = file.read_bytes()
    desk = opened(tmp_path, Here())
    reply(desk, said(EXERCISE, "step", "later", step={"kind": "power off"}))
    now = as_json(desk.shown(EXERCISE))
    file.write_bytes(older)
    assert as_json(opened(tmp_path, Here()).shown(EXERCISE)) == now


def test_where_nothing_can_be_kept_the_bench_works(tmp_path: Path) -> None:
    def full(*_: object) -> None:
        raise OSError("full")

    plays = WorkbookPlays(Here(), tmp_path, full, "w")
    drawn = scenario(LAB)
    desk = Desk(task(drawn), tmp_path / "w.task.json", sheet_of(drawn), plays=plays)
    assert "power off" in worked(desk)


def test_a_process_that_forgot_measures_nothing_again(monkeypatch: pytest.MonkeyPatch) -> None:
    drawn = scenario(LAB)
    [exercise] = [each for each in drawn.lab.exercises if each.id == EXERCISE]
    prepared = drawn.prepare(exercise)
    bench = {"setup": prepared.ask["setup"], "faults": prepared.key["faults"]}
    bench |= {"power": True, "costs": {}, "assessed": False}
    steps = [{"kind": "indicators"}, {"kind": "dance"}, {"kind": "power off"}]
    questions = [{"bench": bench, "steps": steps[:n]} for n in (1, 2, 3)]
    told = [playing.played(question) for question in questions]
    assert told[1]["failed"]
    assert told[1]["last"]["detail"]
    monkeypatch.setattr(Indicators, "take", lambda *_: pytest.fail("measured"))
    for number in (1, 2):
        playing._benches.clear()
        assert playing.played(questions[number], told[number - 1]) == told[number]


def test_a_bench_that_nobody_asked_for_lately_is_let_go(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(playing, "REMEMBERED", 2)
    playing._benches.clear()
    drawn = scenario(LAB)
    [exercise] = [each for each in drawn.lab.exercises if each.id == EXERCISE]
    setup = drawn.prepare(exercise).ask["setup"]
    for budget in (1.0, 2.0, 3.0):
        bench = {"setup": setup, "faults": [], "power": False, "assessed": False}
        playing.played({"bench": {**bench, "costs": {"look": budget}}, "steps": []})
    assert len(playing._benches) == 2
    costs = [each.front.view()["costs"]["look"] for each in playing._benches.values()]
    assert costs == [2.0, 3.0]


def test_looking_back_apart_tells_what_it_tells_here(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # All that a look back is worked out from, which takes many seconds.
    monkeypatch.setattr(front, "told", lambda session: {"steps": [repr(s) for s in session.steps]})
    drawn = draw(read_lab(FIND_AND_WIRE), "back")
    [exercise] = [each for each in drawn.lab.exercises if each.id == "quiet-line"]
    prepared = drawn.prepare(exercise)
    right = check_for(exercise.kind).right_answer(prepared.ask, prepared.key)
    ends = {"a": "tap 1, left/4", "b": "tap 1, left/2"}
    told = []
    for name in ("here", "apart"):
        place = tmp_path / name
        place.mkdir()
        made = task(drawn)
        desk = Desk(made, place / "w.task.json", sheet_of(drawn))
        if name == "apart":
            desk = opened(place, Here(), drawn=drawn)
        before = reply(desk, said("quiet-line", "step", "b0", step={"kind": "look back"}))
        assert "refused" in before["reply"]
        for number, step in enumerate(({"kind": "power off"}, {"kind": "ohms", **ends})):
            reply(desk, said("quiet-line", "step", f"s{number}", step=step))
        reply(desk, said("quiet-line", "answer", "a", answer=right))
        told.append(reply(desk, said("quiet-line", "step", "b1", step={"kind": "look back"})))
    assert "back" in told[0]["reply"]
    assert as_json(told[0]) == as_json(told[1])
    # Looking back is no step at the bench: what was kept holds.
    again = Here()
    assert opened(tmp_path / "apart", again, drawn=drawn).shown("quiet-line")
    assert again.asked == 0

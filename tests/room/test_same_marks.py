"""The same answers give the same marks through the notebook and through the room, in every lab.

A scripted trainee by protocol: right answers, known mistakes, hints, and steps at the benches. What
the notebook's file brings on a stick and what the room hands in is scored for real: assessed in the
labs that have every kind, in practice, which tests/answering/test_second_host.py holds for each lab
too, in the others. Not assessed is `acceptance`, whose recordings take long to deal; that its bench
shows in a room what a recording shows is held in tests/kinds/test_bench_of_a_host.py.
"""

from __future__ import annotations

import shutil
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.handins.demo import LAB
from labkit.classroom.mark import Mark
from labkit.classroom.marks.scoring import score
from labkit.doors.installed import check_for
from labkit.exchange.hand_in import pack
from labkit.room.room import Room

sys.path += [str(Path(__file__).parents[1] / "browser"), str(Path(__file__).parents[1] / "station")]
from at_a_desk import Desk, send
from course import IN_THE_NOTEBOOK, TRAINEE, CourseDesk, labs_of_the_course
from dealt import Solution

ASSESSED = {LAB, *IN_THE_NOTEBOOK} - {"acceptance"}
CASES = [(lab, "assessed" if lab in ASSESSED else "practice") for lab in labs_of_the_course()]
LOOK = [{"kind": "power off"}, {"kind": "power on"}, {"kind": "indicators"}, {"kind": "dance"}]


def acts(solution: Solution, number: int, *, bench: bool) -> Iterator[dict[str, Any]]:
    """What a trainee does at one exercise: every third is known wrong, every third mended after."""
    check = check_for(solution.kind)
    wrong = [
        answer
        for answer in solution.slips.values()
        if not check.check(solution.ask, solution.key, answer).right
    ]
    if number % 4 == 0:
        yield {"do": "hint"}
    if solution.kind == "wiring":
        yield {"do": "step", "step": {"kind": "test", "answer": solution.right}}
    answers = [*wrong[: 1 if number % 3 else 0], *([solution.right] if number % 3 != 1 else [])]
    for answer in answers or [solution.right]:
        if bench:
            for step in (*LOOK, *answer["steps"]):
                yield {"do": "step", "step": step}
        yield {"do": "answer", "answer": answer}


def worked(desk: CourseDesk, hear: Callable[..., Any]) -> list[Any]:
    """Do all of it; what each message came to."""
    found = []
    solutions = desk.solutions()
    # At the first bench of a lab alone: to play them all takes a minute in some labs.
    benches = [name for name, solution in solutions.items() if solution.kind == "diagnosis"]
    for number, (name, solution) in enumerate(solutions.items()):
        for count, act in enumerate(acts(solution, number, bench=[name] == benches[:1])):
            found.append(hear(name, **act, token=f"{name}.{count}"))
    return found


def marks(folder: ClassFolder) -> list[Mark]:
    """What is scored, but for when it was."""
    return [replace(mark, since="") for mark in score(folder).results[0].marks]


@pytest.mark.parametrize(("lab", "mode"), CASES, ids=lambda word: word)
def test_marks_are_the_same(lab: str, mode: str, tmp_path: Path) -> None:
    here = CourseDesk.sit_down(tmp_path / "notebook", lab, mode)
    shutil.copytree(tmp_path / "notebook", tmp_path / "room")

    notebook = Desk(here.task_file)
    at_notebook = worked(here, lambda name, **said: send(notebook.exercise(name), **said))
    shutil.copy(pack(here.task_file), here.class_folder.hand_ins)

    folder = ClassFolder.open(tmp_path / "room")
    room = Room(folder)
    room.open_lab(lab, "Mira")
    item = room.workbooks.items[TRAINEE, lab]
    desk = room.workbooks.opened(item).desk

    def in_room(name: str, **said: Any) -> Any:
        heard = desk.hear({"exercise": name, "message": said})
        assert heard
        return heard["reply"]

    assert worked(here, in_room) == at_notebook
    room.hand_in([item])
    found = marks(folder)
    assert found == marks(here.class_folder)
    assert 0 < sum(mark.earned for mark in found) < sum(mark.possible for mark in found)
    assert all(mark.answered for mark in found)
    assert any(mark.verdict.slip for mark in found)

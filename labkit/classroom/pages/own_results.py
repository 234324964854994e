"""One person's results in one lab, as their page shows them on paper, in a file and in the room."""

from __future__ import annotations

from typing import TypedDict

from labkit.classroom.class_file import ClassFields
from labkit.classroom.mark import Mark
from labkit.classroom.marks.looking_back import Told
from labkit.classroom.result import Result
from labkit.classroom.share import spoken_percent
from labkit.doors.installed import check_for
from labkit.lab.draw import Scenario
from labkit.language.markdown import message_html, to_html


class ExerciseResult(TypedDict):
    """The mark of one exercise and what explains it; "" where there is nothing to say.

    `state` is right, partly, wrong, blank, waits or voided. `message` (HTML) says what a mistake
    means with the person's own numbers, `working` (HTML) how it is worked out with them; `told`
    has what each step at a bench told.
    """

    exercise: str
    number: int
    title: str
    state: str
    earned: float
    possible: float
    answer: str
    tries: int
    hints: int
    hint_cost: float
    marked_by: str
    note: str
    message: str
    right: str
    working: str
    told: list[str]


class OwnResults(TypedDict):
    """The sum and every exercise. `percent` is of what is marked; `waits` says what is not yet.

    `workbook` is the one that was handed in: of several attempts the one that counts, or the one in
    which it was worked at `with_whom` ("" for nobody).
    """

    workbook: str
    handed_in: str
    with_whom: str
    late: bool
    earned: float
    marked: float
    percent: str
    waits: str
    exercises: list[ExerciseResult]


def own_results(rules: ClassFields, result: Result, told: Told | None = None) -> OwnResults:
    """The results of somebody who handed something in that counts."""
    share, scenario = result.share, result.scenario
    looked_back = told or {}
    return {
        "workbook": result.work.workbook,
        "handed_in": rules.spoken(result.hand_in.made_at) if result.hand_in else "",
        "with_whom": result.with_whom,
        "late": result.late,
        "earned": share.earned,
        "marked": share.marked,
        "percent": spoken_percent(share.percent, rules.pass_mark, decimals=0),
        "waits": share.waits,
        "exercises": [
            exercise_result(scenario, mark, looked_back.get(mark.exercise, []))
            for mark in result.marks
        ],
    }


def exercise_result(scenario: Scenario, mark: Mark, told: list[str]) -> ExerciseResult:
    """The mark of one exercise, and what explains it to whose it is."""
    exercise = next(item for item in scenario.lab.exercises if item.id == mark.exercise)
    prepared, state = scenario.prepare(exercise), state_of(mark)
    check = check_for(exercise.kind)
    right = check.shown(prepared.ask, check.right_answer(prepared.ask, prepared.key))
    # A message may repeat what the trainee typed: no links in it.
    message = message_html(mark.verdict.message, links=False)
    return {
        "exercise": mark.exercise,
        "number": mark.number,
        "title": mark.title,
        "state": state,
        "earned": mark.earned,
        "possible": mark.possible,
        "answer": mark.answer,
        "tries": mark.tries,
        "hints": mark.hints,
        "hint_cost": mark.hint_cost,
        "marked_by": mark.marked_by,
        "note": mark.note,
        "message": message if state in ("wrong", "partly") and not mark.marked_by else "",
        "right": "" if state in ("right", "waits") else right,
        "working": to_html(exercise.working.render(scenario.names)),
        "told": told,
    }


def state_of(mark: Mark) -> str:
    """How an exercise stands, in one word: see `ExerciseResult`."""
    if mark.voided:
        return "voided"
    if mark.awaits:
        return "waits"
    if mark.verdict.right:
        return "right"
    if not mark.answered:
        return "blank"
    return "partly" if mark.verdict.credit > 0 else "wrong"

"""A class of twelve invented trainees, dealt, played and handed in, to look at the whole job.

Nothing here is measured data: the names are invented and the answers are played.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any, Final

from labkit.classroom.class_folder import CLASS_FILE, ROSTER_FILE, ClassFolder
from labkit.classroom.dealing.deal import trainee_folder
from labkit.classroom.dealing.deal_record import write_deal
from labkit.classroom.dealing.seeds import scenario_of
from labkit.classroom.dealt import Deal, Dealt, Roll
from labkit.classroom.errors import ClassError
from labkit.classroom.private_place import OWNERS_FOLDER, Place, keep_private
from labkit.classroom.progress import Progress
from labkit.doors.installed import check_for
from labkit.exchange.clock import CLOCK, written
from labkit.exchange.formats import JOURNAL_ENDING, TASK_ENDING
from labkit.exchange.hand_in import pack
from labkit.exchange.journal import ANSWER, HINT, OPENED, Journal
from labkit.lab.definition import Exercise, Lab
from labkit.lab.draw import Scenario
from labkit.language.stream import Stream

LAB: Final = "plan-the-trunk"
# Of ten exercises, how many each trainee gets right, makes a slip in, and leaves blank.
_PEOPLE: Final = (
    ("t01", "Ansa Merrow", (10, 0, 0)),
    ("t02", "Bo Lindqvale", (8, 2, 0)),
    ("t03", "Celso Arrand", (5, 5, 0)),
    ("t04", "Dunja Hartwell", (9, 1, 0)),
    ("t05", "Emeka Sorvald", (6, 2, 2)),
    ("t06", "Femke Osterly", (7, 3, 0)),
    ("t07", "Goran Telisk", (3, 5, 2)),
    ("t08", "Hyun Barlowe", (8, 1, 1)),
    ("t09", "Ines Cavendry", (4, 6, 0)),
    ("t10", "Jarl Whitmoss", (7, 2, 1)),
    ("t11", "Kasia Dornell", (6, 4, 0)),
    ("t12", "Lwazi Penhallen", (9, 0, 1)),
)
_DAMAGED: Final = "t11"
_TWICE: Final = "t04"
# Who copied four numbers, and from whom.
_COPIES: Final = {"t09": "t03"}
_COPIED_NUMBERS: Final = 4
_BEGAN: Final = timedelta(minutes=110)
"""So long ago the trainees began, as it is played."""
_PRACTICE_CLASS: Final = """\
# A demo class: its people, its plant and its devices are invented.
id: demo-class
title: Demo class
labs: [plan-the-trunk]
mode: {mode}
pass_mark: 60
"""


def make_class(path: Path, *, mode: str) -> ClassFolder:
    """Make the demo class in a fresh folder. Raises `ClassError` when there is something there."""
    if path.exists() and any(path.iterdir() if path.is_dir() else [path]):
        raise ClassError(
            f"{path} is there already. Give another folder ('labkit demo FOLDER'), or delete it."
        )
    place = Place(path)
    # The class's secret, names and marks go in here.
    place.made().chmod(OWNERS_FOLDER)
    place.write(_PRACTICE_CLASS.format(mode=mode), CLASS_FILE)
    roster = "".join(f"{name_id},{name}\n" for name_id, name, _ in _PEOPLE)
    place.write(f"id,name\n{roster}", ROSTER_FILE)
    return ClassFolder.open(path)


def play(folder: ClassFolder, lab: Lab, deal: Deal, progress: Progress | None = None) -> None:
    """Answer every workbook as its trainee would, and put the hand-ins in the class's folder.

    The record of the deal then says that it was made before the trainees began.
    """
    moment = written(CLOCK.moment() - _BEGAN - timedelta(minutes=10))
    earlier = Roll(replace(item, dealt_at=moment) for item in deal.dealt)
    write_deal(folder, replace(deal, dealt=earlier))
    folder.open_for_hand_ins()
    secret = folder.secret()
    shares = {trainee: share for trainee, _, share in _PEOPLE}
    firsts = [item for item in deal.dealt if item.attempt == 1]
    scenarios = {item.trainee: scenario_of(secret, folder.fields.id, lab, item) for item in firsts}
    for done, item in enumerate(firsts, 1):
        home = trainee_folder(folder, item.trainee)
        journal = home / f"{lab.id}{JOURNAL_ENDING}"
        keep_private(journal)
        _answer(
            scenarios[item.trainee],
            _Pen(Journal(journal), Stream("demo time", item.trainee)),
            item,
            shares[item.trainee],
            folder.fields.practice(lab.id),
            scenarios.get(_COPIES.get(item.trainee, "")),
        )
        hand_in = pack(home / f"{lab.id}{TASK_ENDING}")
        keep_private(hand_in)
        _give(hand_in, folder, item)
        if progress:
            progress(done, len(firsts))


def played_answers(folder: ClassFolder, lab: Lab, deal: Deal) -> dict[str, list[tuple[str, Any]]]:
    """What each trainee of the demo class answers, in their order: exercise and answer, by id."""
    secret, found = folder.secret(), dict[str, list[tuple[str, Any]]]()
    shares = {trainee: share for trainee, _, share in _PEOPLE}
    for item in deal.dealt:
        notes = _Notes()
        scenario = scenario_of(secret, folder.fields.id, lab, item)
        _answer(scenario, notes, item, shares[item.trainee], folder.fields.practice(lab.id), None)
        found[item.trainee] = notes.answers
    return found


class _Notes:
    """Takes down what is answered, where somebody else is to say it."""

    def __init__(self) -> None:
        self.answers: list[tuple[str, Any]] = []

    def write(self, event: str, marks: float, **details: Any) -> None:
        """One entry; only answers are taken down, however long they take."""
        del marks
        if event == ANSWER:
            self.answers.append((details["exercise"], details["answer"]))


def _give(hand_in: Path, folder: ClassFolder, item: Dealt) -> None:
    place, data = Place(folder.hand_ins), hand_in.read_bytes()
    if item.trainee == _DAMAGED:
        # Cut off half way, as a stick that was pulled out too early leaves it.
        data = data[: len(data) // 2]
    place.write(data, hand_in.name)
    if item.trainee == _TWICE:
        place.write(data, f"copy of {hand_in.name}")


class _Pen:
    """Writes a journal as if the trainee had worked for an hour and a half before now."""

    def __init__(self, journal: Journal, stream: Stream) -> None:
        self._journal, self._stream = journal, stream
        self._at = CLOCK.moment() - _BEGAN

    def write(self, event: str, marks: float, **details: Any) -> None:
        """One entry, after a time that grows with the marks of what was worked on."""
        self._at += timedelta(seconds=round(marks * (40 + self._stream.below(140))))
        self._journal.append(event, at=written(self._at), **details)


def _answer(
    scenario: Scenario,
    pen: _Pen | _Notes,
    item: Dealt,
    share: tuple[int, int, int],
    practice: bool,
    neighbour: Scenario | None,
) -> None:
    stream = Stream("demo", item.trainee)
    pen.write(OPENED, 0, lab=scenario.lab.id)
    copied = 0
    exercises = scenario.lab.exercises
    plan = _plan(len(exercises), share, stream)
    for exercise, way in zip(exercises, plan, strict=True):
        if way == "blank":
            continue
        slip = _slip_answer(scenario, exercise, stream)
        if practice and way == "right" and slip is not None and stream.below(3) == 0:
            # Some get it right at the second try, a hint in between.
            pen.write(ANSWER, exercise.marks, exercise=exercise.id, answer=slip)
            if exercise.hints:
                pen.write(HINT, 0.5, exercise=exercise.id, hint=1)
        right = way == "right" or slip is None
        answer = _right_answer(scenario, exercise) if right else slip
        if neighbour and not right and exercise.kind == "quantity" and copied < _COPIED_NUMBERS:
            answer = _right_answer(neighbour, exercise)
            copied += 1
        pen.write(ANSWER, exercise.marks, exercise=exercise.id, answer=answer)


def _plan(size: int, share: tuple[int, int, int], stream: Stream) -> list[str]:
    right, slips, _ = (round(part * size / 10) for part in share)
    ways = ["right"] * right + ["slip"] * slips
    ways = (ways + ["blank"] * size)[:size]
    return [ways[index] for index in stream.order(size)]


def _right_answer(scenario: Scenario, exercise: Exercise) -> Any:
    prepared = scenario.prepare(exercise)
    return check_for(exercise.kind).right_answer(prepared.ask, prepared.key)


def _slip_answer(scenario: Scenario, exercise: Exercise, stream: Stream) -> Any:
    prepared = scenario.prepare(exercise)
    slips = check_for(exercise.kind).slip_answers(prepared.ask, prepared.key)
    if not slips:
        return None
    return slips[sorted(slips)[stream.below(len(slips))]]

"""What people mark, exercise by exercise across everybody: what waits, and what was given."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property
from hashlib import sha256
from typing import Any

from sqlalchemy import and_, or_, select

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.roster_changes import gone_from_roster
from labkit.classroom.dealt import Dealt
from labkit.classroom.handins.intake import files_in
from labkit.classroom.handins.pairs import Pairs
from labkit.classroom.handins.settling import settle
from labkit.classroom.marks.by_hand import ByHand
from labkit.classroom.marks.crew import Crew
from labkit.classroom.marks.scoring import mark_files
from labkit.classroom.records.current import current_marks
from labkit.classroom.records.schema import IN_PERSON, manual, marks, people
from labkit.doors.check import SeenInPerson
from labkit.doors.installed import check_for
from labkit.lab.definition import Exercise

Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Work:
    """How one workbook stands in an exercise.

    `marked_by` is "" where no person gave a mark of what is there now; `waits` says that one must.
    """

    workbook: str
    waits: bool
    marked_by: str
    earned: float


@dataclass(frozen=True, slots=True)
class ExerciseByHand:
    """An exercise that people mark, and the workbooks that have something to mark.

    `works` come in an order that follows from the numbers of workbooks alone, another one for each
    exercise: it tells nothing of names. `in_person` is what is seen at the real bench.
    """

    exercise: str
    number: int
    title: str
    possible: float
    in_person: bool
    works: tuple[Work, ...]

    @property
    def waiting(self) -> int:
        """How many still wait for a mark."""
        return sum(work.waits for work in self.works)


@dataclass(frozen=True, slots=True)
class LabByHand:
    """The exercises of one lab that people mark.

    `handed_in` are the workbooks with a hand-in that counts, `missing` is how many have none; what
    two work at together is one workbook.
    """

    lab: str
    title: str
    handed_in: frozenset[str]
    missing: int
    exercises: tuple[ExerciseByHand, ...]


def came_in(folder: ClassFolder) -> list[tuple[str, int]]:
    """What lies among a class's hand-ins now: another list of it is another state."""
    found = []
    for file in files_in(folder.hand_ins):
        # A file may be moved away while it is looked at.
        with suppress(FileNotFoundError):
            found.append((str(file), file.stat().st_mtime_ns))
    return found


class ByExercise:
    """What people mark in one class. Raises `ClassError` before the deal."""

    def __init__(self, folder: ClassFolder) -> None:
        self._hand = ByHand(folder)
        self._found: tuple[str, list[LabByHand]] = ("", [])

    def holds(self) -> bool:
        """Whether labs are marked by the same editions still."""
        return self._hand.holds()

    def take_in(self) -> None:
        """Mark by calculation what came in since, from the room or on sticks, as scoring does."""
        hand = self._hand
        with Crew(1, None) as crew:
            mark_files(hand.examiner, hand.records, files_in(hand.folder.hand_ins), crew)
        settle(hand.records, hand.examiner.deal, hand.folder.fields)

    def labs(self) -> list[LabByHand]:
        """All labs in which people mark something, in the order of the deal."""
        code = self._hand.records.code()
        # While nothing is added to the records it is what it was.
        if not code or code != self._found[0]:
            asked = self._asked()
            rows = self._rows(asked)
            labs = [lab for lab in self._hand.examiner.labs if lab in asked]
            self._found = code, [self._lab(lab, asked, rows) for lab in labs]
        return self._found[1]

    def exercise(self, lab: str, exercise: str) -> ExerciseByHand | None:
        """One exercise across everybody; None where people mark no such thing."""
        if exercise not in self._asked().get(lab, ()):
            return None
        asked = {lab: {exercise}}
        return self._lab(lab, asked, self._rows(asked)).exercises[0]

    def seen_before(self, lab: str) -> dict[str, set[str]]:
        """What was signed off in a lab although it was not said to be ready: by exercise, whose."""
        exercises = self._in_person[lab]
        query = select(manual.c.exercise, manual.c.workbook).where(
            manual.c.exercise.in_(exercises), manual.c.answer_digest == IN_PERSON
        )
        found: dict[str, set[str]] = {name: set() for name in exercises}
        for row in self._hand.records.rows(query):
            found[row["exercise"]].add(row["workbook"])
        return found

    def _title(self, lab: str, exercise: Exercise) -> str:
        """The title of an exercise that nobody has handed in, with the numbers of one of them."""
        first = next(item for item in self._hand.examiner.deal.dealt if item.lab == lab)
        return exercise.title.render(self._hand.examiner.scenario(first).names)

    @cached_property
    def _last(self) -> list[Dealt]:
        """What each person of the roster works at, or worked at last, a lab each."""
        deal = self._hand.examiner.deal
        gone = {one.id for one in gone_from_roster(self._hand.folder, deal)}
        last = (items[-1] for items in deal.dealt.together())
        return [item for item in last if item.trainee not in gone]

    @cached_property
    def _dealt(self) -> set[str]:
        return {item.workbook for item in self._hand.examiner.deal.dealt}

    @cached_property
    def _in_person(self) -> dict[str, list[str]]:
        return {
            name: [e.id for e in lab.exercises if isinstance(check_for(e.kind), SeenInPerson)]
            for name, lab in self._hand.examiner.labs.items()
        }

    def _asked(self) -> dict[str, set[str]]:
        """By lab, the exercises that people mark: some answer waited, or it is seen in person."""
        asked = {lab: set(names) for lab, names in self._in_person.items() if names}
        query = select(marks.c.lab, marks.c.exercise).where(marks.c.awaits).distinct()
        for row in self._hand.records.rows(query):
            asked.setdefault(row["lab"], set()).add(row["exercise"])
        return asked

    def _rows(self, asked: Mapping[str, Iterable[str]]) -> dict[tuple[str, str], list[Row]]:
        """The marks that hold now of these exercises; guests' own workbooks rest."""
        with self._hand.records.reading() as connection:
            resting = Pairs.of(connection).host_of
        wanted = (
            and_(people.c.lab == lab, marks.c.exercise.in_(names)) for lab, names in asked.items()
        )
        found: dict[tuple[str, str], list[Row]] = {}
        if not asked:
            return found
        for row in self._hand.records.rows(current_marks().where(or_(*wanted))):
            if row["workbook"] in self._dealt and row["workbook"] not in resting:
                found.setdefault((row["lab"], row["exercise"]), []).append(row)
        return found

    def _lab(
        self,
        lab: str,
        asked: Mapping[str, Iterable[str]],
        rows: Mapping[tuple[str, str], list[Row]],
    ) -> LabByHand:
        text = self._hand.examiner.labs[lab]
        exercises = [
            self._exercise(lab, number, exercise.id, rows.get((lab, exercise.id), []))
            for number, exercise in enumerate(text.exercises, 1)
            if exercise.id in asked[lab]
        ]
        came = {row["workbook"] for (of, _), some in rows.items() if of == lab for row in some}
        with self._hand.records.reading() as connection:
            resting = Pairs.of(connection).host_of
        missing = [
            item
            for item in self._last
            if item.lab == lab and item.workbook not in came and item.workbook not in resting
        ]
        return LabByHand(lab, text.title, frozenset(came), len(missing), tuple(exercises))

    def _exercise(
        self, lab: str, number: int, exercise: str, rows: Iterable[Row]
    ) -> ExerciseByHand:
        held = [row for row in rows if not row["voided"]]
        works = [
            Work(row["workbook"], bool(row["awaits"]), row["marked_by"] or "", row["earned"])
            for row in held
            if row["awaits"] or row["marked_by"]
        ]
        asked = next(e for e in self._hand.examiner.labs[lab].exercises if e.id == exercise)
        return ExerciseByHand(
            exercise,
            number,
            held[0]["title"] if held else self._title(lab, asked),
            asked.marks,
            exercise in self._in_person[lab],
            tuple(sorted(works, key=lambda work: _shuffled(exercise, work.workbook))),
        )


def _shuffled(exercise: str, workbook: str) -> str:
    return sha256(f"{exercise} {workbook}".encode()).hexdigest()

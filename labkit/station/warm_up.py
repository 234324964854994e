"""The morning's warm-up at a laptop: mistakes of the last day in the workbooks of this folder.

They are somebody's own practice workbooks, each with its journal. Nothing of an assessed one is
asked: its task holds no key, so nobody here knows what went wrong in it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Any, Final

from labkit.answering.drilling import Drilling, in_other_numbers
from labkit.answering.own_topics import OwnTopics
from labkit.answering.topics import Tried
from labkit.answering.warm_up import Question, WarmUp, WarmUpShown, warm_up, warm_up_shown
from labkit.errors import LabkitError
from labkit.exchange.clock import CLOCK, read_moment
from labkit.exchange.drill_file import FileDraw, FileDrill, drills_path, read_drills
from labkit.exchange.journal import DRILL, OF_EXERCISES, Journal
from labkit.exchange.task_file import (
    Task,
    journal_path,
    read_task,
    task_file_of,
    workbooks_in,
)
from labkit.station.errors import StationError

NONE_LEFT: Final = "There are no other numbers left of this question."


@dataclass(frozen=True, slots=True)
class Posed:
    """A question of the warm-up in new numbers, and what is read before it."""

    lab_title: str
    drilling: Drilling
    texts: list[str]
    cautions: list[str]
    picture: str


class Morning:
    """What somebody's workbooks in one folder offer as a warm-up.

    Other workbooks are those of the same person and class that lie beside this one. One that
    cannot be read is left out: it says so itself when it is opened. Days are this computer's.
    """

    def __init__(self, task_path: Path, task: Task, journal: Journal) -> None:
        own = [_Book(task_path, task, journal)] if task["practice"] else []
        others = _others(task_path, task) if task["practice"] else ()
        self._books = {book.number: book for book in (*own, *others) if book.of_an_earlier_day()}

    def shown(self) -> WarmUpShown | None:
        """The warm-up as it stands by now; None where there is none."""
        found = self._found()
        if found is None:
            return None
        return warm_up_shown(found, CLOCK.moment(), None, self._titles)

    def _found(self) -> WarmUp | None:
        tried: dict[str, list[Tried]] = {}
        for number, book in self._books.items():
            with suppress(LabkitError, OSError):
                tried[number] = book.counted()
        return warm_up(tried, CLOCK.moment(), None)

    def _titles(self, one: Question) -> tuple[str, str]:
        task = self._books[one.lab].task
        return task["lab"]["title"], self._books[one.lab].exercises[one.exercise]["title"]

    def pose(self, one: tuple[str, str], when_saved: Callable[[], None]) -> Posed:
        """Ask an exercise, by workbook and id, in the next numbers that were not answered yet.

        Raises `StationError`, another `LabkitError`, or `OSError`.
        """
        number, name = one
        book = self._books.get(number)
        drawn = book.next_drill(name) if book else None
        if book is None or drawn is None:
            raise StationError(NONE_LEFT)
        draw, drill = drawn
        drilling = Drilling(
            drill["exercise"],
            draw["draw"],
            book.journal,
            topic=lambda: book.topics.line(name),
            when_saved=when_saved,
        )
        return Posed(
            book.task["lab"]["title"],
            drilling,
            draw["texts"][: drill["texts"]],
            draw["cautions"][: drill["cautions"]],
            draw["picture"],
        )


class _Book:
    """One practice workbook: its exercises, its journal, and its drills once they are needed."""

    def __init__(self, task_path: Path, task: Task, journal: Journal) -> None:
        self.path, self.task, self.journal = task_path, task, journal
        self.number = task["workbook"]
        self.exercises = {each["id"]: each for each in task["exercises"] if "practice" in each}
        self.topics = OwnTopics(task, lambda: journal.read().entries)

    def of_an_earlier_day(self) -> bool:
        """Whether something was done in it before today."""
        with suppress(LabkitError, OSError):
            for entry in self.journal.read().entries:
                at = read_moment(entry.get("at"))
                if at and entry["event"] in (*OF_EXERCISES, DRILL):
                    return at.astimezone().date() < _today()
        return False

    def counted(self) -> list[Tried]:
        """The first answers that a warm-up goes by: mistakes count as far as they can be asked.

        Raises `OSError`, or a `LabkitError`.
        """
        tried = self.topics.tried()
        today = {one.exercise for one in tried if one.at.astimezone().date() == _today()}
        return [
            one
            for one in tried
            if one.right or one.exercise in today or self.next_drill(one.exercise)
        ]

    def next_drill(self, name: str) -> tuple[FileDraw, FileDrill] | None:
        """The next draw of an exercise that was not answered yet."""
        if name not in self.exercises:
            return None
        answered = {
            entry.get("draw")
            for entry in self.journal.read().entries
            if entry["event"] == DRILL and entry.get("exercise") == name and "answer" in entry
        }
        drills = in_other_numbers(self.exercises[name], self._draws)
        return next((each for each in drills if each[0]["draw"] not in answered), None)

    @cached_property
    def _draws(self) -> list[FileDraw]:
        return read_drills(drills_path(self.path), self.task["lab"]["digest"])


def _today() -> date:
    return CLOCK.moment().astimezone().date()


def _others(task_path: Path, task: Task) -> Iterator[_Book]:
    """The other practice workbooks of the same person and class in the folder."""
    for notebook in workbooks_in(task_path.parent):
        with suppress(LabkitError, OSError):
            file = task_file_of(notebook)
            other = read_task(file)
            if other["practice"] and _whose(other) == _whose(task) and not _same(other, task):
                yield _Book(file, other, Journal(journal_path(file)))


def _whose(task: Task) -> tuple[Any, ...]:
    return task["class"]["id"], task["trainee"]["id"]


def _same(one: Task, other: Task) -> bool:
    return one["workbook"] == other["workbook"]

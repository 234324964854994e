"""One person's workbook at the web host: what its pages show, and what they ask for."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from threading import Lock
from typing import Any, TypedDict

from labkit.answering.answering import Answering
from labkit.answering.messages import Reply, Saved, Shown
from labkit.exchange.append_only import AddLine, add_line
from labkit.exchange.hand_in import HandInContent, hand_in
from labkit.exchange.journal import HANDED_IN, OPENED, ExerciseRecord, Journal, records
from labkit.exchange.task_file import Task, journal_path
from labkit.lab.definition import Lab
from labkit.page.drill import DrillReply, Drills
from labkit.page.kept_plays import WorkbookPlays
from labkit.page.sheet import Sheet


class ExerciseNow(TypedDict):
    """An exercise as it is now, and the kind whose page module shows it.

    What it shows is asked for when somebody looks at it: a bench is only then set up. `drills` says
    whether there may be one more like it.
    """

    kind: str
    title: str
    saved: Saved
    drills: bool


class Opened(TypedDict):
    """What a page gets when it is opened. No key is in it, and no signing key."""

    workbook: str
    trainee: str
    class_title: str
    practice: bool
    picture: str
    sheet: Sheet
    exercises: dict[str, ExerciseNow]


class Heard(TypedDict):
    """What comes of a page's message: for all pages of the workbook, and for the one that asked."""

    exercise: str
    saved: Saved
    reply: Reply | DrillReply


class Desk:
    """A workbook whose answers are kept in the journal beside `task_file`, by `add`.

    It may be asked from several threads; acts are done one after the other. Before each `why_shut`
    is asked: a sentence for pages why nothing is kept now, "" while it is. With its `lab` a
    practice workbook has drills. Benches are played in `plays`, without it in this process. Raises
    `OSError` when the journal cannot be written, and `NotInstalledError` for a kind that is not
    here.
    """

    def __init__(
        self,
        task: Task,
        task_file: Path,
        sheet: Sheet,
        *,
        why_shut: Callable[[], str] = str,
        lab: Lab | None = None,
        add: AddLine = add_line,
        plays: WorkbookPlays | None = None,
    ) -> None:
        self._plays = plays
        self._task, self._sheet, self._why_shut = task, sheet, why_shut
        self._one_at_a_time = Lock()
        self._journal = Journal(journal_path(task_file), add)
        self._journal.append(OPENED, lab=task["lab"]["id"])
        self._records = records(self._journal.read().entries)
        self._exercises = {each["id"]: each for each in task["exercises"]}
        self._answering = {name: self._made(each) for name, each in self._exercises.items()}
        self._drills = (
            Drills(lab, sheet, self._journal, plays) if lab and task["practice"] else None
        )

    def _made(self, exercise: Any) -> Answering:
        example = (exercise.get("practice") or {}).get("example")
        pictures: Mapping[str, str] = self._task.get("example_pictures", {})
        return Answering(
            exercise,
            journal=self._journal,
            record=self._records.get(exercise["id"], ExerciseRecord()),
            when_saved=self._records.__setitem__,
            example_picture=pictures.get(str(example["draw"]), "") if example else "",
            play=self._plays.of(exercise["id"], exercise["kind"]) if self._plays else None,
        )

    @property
    def scripts(self) -> dict[str, Path]:
        """The page module of each kind that is in the workbook."""
        return {each.kind: each.page_of.script_file() for each in self._answering.values()}

    def opened(self) -> Opened:
        """The workbook as it is now."""
        with self._one_at_a_time:
            picture = self._task.get("picture")
            return {
                "workbook": self._task["workbook"],
                "trainee": self._task["trainee"]["name"],
                "class_title": self._task["class"]["title"],
                "practice": self._task["practice"],
                "picture": picture["svg"] if picture else "",
                "sheet": self._sheet,
                "exercises": {
                    name: {
                        "kind": each.kind,
                        "title": each.title,
                        "saved": each.saved,
                        "drills": self._drills is not None and each.page_of.drills,
                    }
                    for name, each in self._answering.items()
                },
            }

    def shown(self, name: str) -> Shown | None:
        """What an exercise shows now; None where there is none of that name.

        It waits for what was done at its bench to be played again.
        """
        answering = self._answering.get(name)
        if answering is None:
            return None
        with self._one_at_a_time:
            return answering.shown_now()

    def hear(self, said: object, *, by: str = "") -> Heard | None:
        """Do what a page asks for; None where it is no message. Any JSON may come.

        It waits for the disk, and for a bench to be played. `by` is whose hand did it, as the host
        knows it: the journal keeps it.
        """
        if not isinstance(said, dict):
            return None
        name = said.get("exercise")
        answering = self._answering.get(name) if isinstance(name, str) else None
        if answering is None:
            return None
        with self._one_at_a_time:
            reply = self._reply(str(name), said.get("message"), by)
            if reply is None:
                return None
            return {"exercise": str(name), "saved": answering.saved, "reply": reply}

    def _reply(self, name: str, message: Any, by: str) -> Reply | DrillReply | None:
        answering, drills = self._answering[name], self._drills
        to_drill = isinstance(message, dict) and message.get("do") == "drill"
        if to_drill and drills and answering.page_of.drills:
            return drills.hear(self._exercises[name], message, by=by, shut=self._why_shut())
        return answering.hear(message, by=by, shut=self._why_shut())

    def handed_in(self) -> HandInContent:
        """The hand-in of all that is kept by now. Raises `OSError`."""
        with self._one_at_a_time:
            self._journal.append(HANDED_IN)
            return hand_in(self._task, self._journal)

    @property
    def saved(self) -> dict[str, Saved]:
        """What is on disk of each exercise, in the workbook's order; it waits for nothing."""
        return {name: each.saved for name, each in self._answering.items()}

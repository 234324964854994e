"""The open workbook: one object that the notebook's cells ask for their widgets."""

from __future__ import annotations

from collections import defaultdict
from contextlib import suppress
from functools import partial
from pathlib import Path

from labkit.answering.answering import Answering
from labkit.answering.messages import Reply
from labkit.answering.own_topics import OwnTopics
from labkit.doors.installed import NotInstalledError
from labkit.errors import LabkitError
from labkit.exchange.journal import OPENED, ExerciseRecord, Journal, records
from labkit.exchange.task_file import Task, TaskExercise, journal_path, read_task
from labkit.station.errors import StationError
from labkit.station.warm_up import Morning
from labkit.station.widgets.exercise import ExerciseWidget
from labkit.station.widgets.hand_in import HandInPanel
from labkit.station.widgets.picture import NetworkPicture
from labkit.station.widgets.warm_up import WarmUpBox
from labkit.station.widgets.welcome import Welcome


class Workbook:
    """One trainee's workbook at this station, in one window of the browser or in several.

    The journal is the truth: widgets show what it holds, and write to it before they confirm. A
    window that runs the cells gets widgets of its own; those of one exercise share its answering.
    """

    def __init__(self, task_path: Path, task: Task) -> None:
        self.task_path = task_path
        self.task = task
        self.journal = Journal(journal_path(task_path))
        self._records: dict[str, ExerciseRecord] = {}
        self._unreadable = 0
        self._answering: dict[str, Answering] = {}
        self._widgets: defaultdict[str, list[ExerciseWidget]] = defaultdict(list)
        self._panels: list[HandInPanel] = []
        self._topics = self._own_topics()

    @classmethod
    def open(cls, task_file: str) -> Workbook:
        """Read the task and the journal. Raises a `LabkitError` with a sentence."""
        path = Path(task_file)
        workbook = cls(path, read_task(path))
        workbook.open_again()
        return workbook

    def open_again(self) -> None:
        """Take the files as they are now: the cells are run once more, maybe in a second window.

        Raises a `LabkitError` with a sentence.
        """
        self.task = read_task(self.task_path)
        self._topics = self._own_topics()
        self._catch_up()
        try:
            self.journal.append(OPENED, lab=self.task["lab"]["id"])
        except OSError as error:
            raise StationError(
                f"Answers cannot be saved in this folder ({error.strerror}). Copy the folder to "
                "this laptop's own disk and open the workbook there."
            ) from None

    def welcome(self) -> Welcome | WarmUpBox:
        """A line that says whose workbook this is and that answers come back.

        On a later day, and after mistakes, the morning's warm-up stands below it.
        """
        answered = len(self.answered())
        line = Welcome(
            trainee=self.task["trainee"]["name"],
            answered=answered,
            total=len(self.task["exercises"]),
            unreadable=self._unreadable,
        )
        morning = Morning(self.task_path, self.task, self.journal)
        shown = morning.shown()
        if shown is None:
            return line
        return WarmUpBox(morning, shown, line, self.task["workbook"])

    def picture(self) -> NetworkPicture:
        """The trainee's own network."""
        picture = self.task.get("picture") or {"svg": "", "facts": "no network"}
        return NetworkPicture(svg=picture["svg"], facts=picture["facts"])

    def exercise(self, name: str) -> ExerciseWidget:
        """The widget of one exercise. Raises `StationError` for an unknown one."""
        try:
            answering = self._answers(name)
            hear = partial(self._hear, name)
            widget = ExerciseWidget(answering, workbook=self.task["workbook"], hear=hear)
        except NotInstalledError as error:
            raise StationError(str(error)) from None
        self._widgets[name].append(widget)
        return widget

    def _answers(self, name: str) -> Answering:
        """A new answering of an exercise, by what is kept of it; its widgets go on with this."""
        task = next((item for item in self.task["exercises"] if item["id"] == name), None)
        if task is None:
            raise StationError(f"The task file has no exercise '{name}': it is of another lab.")
        answering = Answering(
            task,
            journal=self.journal,
            record=self._records.get(name, ExerciseRecord()),
            when_saved=self._saved,
            example_picture=self._example_picture(task),
            topic=lambda: self._topics.line(name),
        )
        self._answering[name] = answering
        for widget in self._widgets[name]:
            widget.goes_on_with(answering)
        return answering

    def _own_topics(self) -> OwnTopics:
        return OwnTopics(self.task, lambda: self.journal.read().entries)

    def _example_picture(self, exercise: TaskExercise) -> str:
        practice = exercise.get("practice")
        example = practice.get("example") if practice else None
        pictures = self.task.get("example_pictures", {})
        return pictures.get(str(example["draw"]), "") if example else ""

    def hand_in_panel(self) -> HandInPanel:
        """The panel at the end: what is answered, and the button that makes the hand-in."""
        panel = HandInPanel(self.task_path, self.task, self.answered(), catch_up=self._catch_up)
        self._panels.append(panel)
        return panel

    def answered(self) -> set[str]:
        """The ids of the exercises that have an answer."""
        return {name for name, record in self._records.items() if record.answered}

    def _hear(self, name: str, message: object) -> Reply | None:
        """What a page of this exercise hears of its message; its other pages show it too."""
        # What cannot be read is said when this message is kept: or else it is kept all the same.
        with suppress(LabkitError, OSError):
            self._catch_up()
        answering = self._answering[name]
        reply = answering.hear(message)
        if reply is not None:
            for widget in self._widgets[name]:
                widget.goes_on_with(answering)
        return reply

    def _catch_up(self) -> None:
        """Take in what another engine kept: a workbook may be opened twice on one laptop.

        Raises `OSError`, or a `LabkitError`.
        """
        text = self.journal.read()
        known, self._records = self._records, records(text.entries)
        self._unreadable = text.unreadable
        changed = {name for name in self._records if self._records[name] != known.get(name)}
        for name in changed.intersection(self._answering):
            self._answers(name)
        if changed:
            self._show_answered()

    def _saved(self, exercise: str, record: ExerciseRecord) -> None:
        self._records[exercise] = record
        self._show_answered()

    def _show_answered(self) -> None:
        for panel in self._panels:
            panel.show_answered(self.answered())

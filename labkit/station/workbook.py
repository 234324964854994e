"""The open workbook: one object that the notebook's cells ask for their widgets."""

from __future__ import annotations

from pathlib import Path

from labkit.answering.answering import Answering
from labkit.doors.installed import NotInstalledError
from labkit.exchange.journal import OPENED, ExerciseRecord, Journal, records
from labkit.exchange.task_file import Task, TaskExercise, journal_path, read_task
from labkit.station.errors import StationError
from labkit.station.widgets.exercise import ExerciseWidget
from labkit.station.widgets.hand_in import HandInPanel
from labkit.station.widgets.picture import NetworkPicture
from labkit.station.widgets.welcome import Welcome


class Workbook:
    """One trainee's workbook at this station.

    The journal is the truth: widgets show what it holds, and write to it before they confirm.
    """

    def __init__(self, task_path: Path, task: Task) -> None:
        self.task_path = task_path
        self.task = task
        self.journal = Journal(journal_path(task_path))
        text = self.journal.read()
        self._records = records(text.entries)
        self._unreadable = text.unreadable
        self._panel: HandInPanel | None = None

    @classmethod
    def open(cls, task_file: str) -> Workbook:
        """Read the task and the journal. Raises a `LabkitError` with a sentence."""
        path = Path(task_file)
        workbook = cls(path, read_task(path))
        try:
            workbook.journal.append(OPENED, lab=workbook.task["lab"]["id"])
        except OSError as error:
            raise StationError(
                f"Answers cannot be saved in this folder ({error.strerror}). Copy the folder to "
                "this laptop's own disk and open the workbook there."
            ) from None
        return workbook

    def welcome(self) -> Welcome:
        """A line that says whose workbook this is and that answers come back."""
        answered = len(self.answered())
        return Welcome(
            trainee=self.task["trainee"]["name"],
            answered=answered,
            total=len(self.task["exercises"]),
            unreadable=self._unreadable,
        )

    def picture(self) -> NetworkPicture:
        """The trainee's own network."""
        picture = self.task.get("picture") or {"svg": "", "facts": "no network"}
        return NetworkPicture(svg=picture["svg"], facts=picture["facts"])

    def exercise(self, name: str) -> ExerciseWidget:
        """The widget of one exercise. Raises `StationError` for an unknown one."""
        task = next((item for item in self.task["exercises"] if item["id"] == name), None)
        if task is None:
            raise StationError(f"The task file has no exercise '{name}': it is of another lab.")
        try:
            answering = Answering(
                task,
                journal=self.journal,
                record=self._records.get(name, ExerciseRecord()),
                when_saved=self._saved,
                example_picture=self._example_picture(task),
            )
            return ExerciseWidget(answering, workbook=self.task["workbook"])
        except NotInstalledError as error:
            raise StationError(str(error)) from None

    def _example_picture(self, exercise: TaskExercise) -> str:
        practice = exercise.get("practice")
        example = practice.get("example") if practice else None
        pictures = self.task.get("example_pictures", {})
        return pictures.get(str(example["draw"]), "") if example else ""

    def hand_in_panel(self) -> HandInPanel:
        """The panel at the end: what is answered, and the button that makes the hand-in."""
        self._panel = HandInPanel(self.task_path, self.task, self.answered())
        return self._panel

    def answered(self) -> set[str]:
        """The ids of the exercises that have an answer."""
        return {name for name, record in self._records.items() if record.answered}

    def _saved(self, exercise: str, record: ExerciseRecord) -> None:
        self._records[exercise] = record
        if self._panel:
            self._panel.show_answered(self.answered())

"""The demo class, dealt with labkit's own code, and what each of its trainees should answer."""

from __future__ import annotations

import json
import os
import shutil
from dataclasses import dataclass, field
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any

from labkit.classroom.class_folder import CLASS_FILE, SECRET_FILE, ClassFolder
from labkit.classroom.dealing.deal import deal
from labkit.classroom.dealing.seeds import scenario_of
from labkit.classroom.dealt import Deal
from labkit.classroom.handins.demo import LAB, make_class
from labkit.doors.installed import check_for
from labkit.exchange.formats import JOURNAL_ENDING, TASK_ENDING
from labkit.lab.definition import Lab
from labkit.lab.draw import Scenario
from labkit.lab.library import lab_library
from labkit.workbook import WorkbookFiles, task_data


@dataclass(frozen=True)
class Solution:
    """One exercise of one trainee: its kind, a right answer and the known wrong ones."""

    name: str
    kind: str
    ask: dict[str, Any]
    key: dict[str, Any]
    right: Any
    slips: dict[str, Any]


@dataclass(frozen=True, eq=False)
class Desk:
    """One trainee's workbook folder, with the solutions that the trainee does not have."""

    folder: Path
    scenario: Scenario

    @property
    def notebook(self) -> Path:
        """The workbook."""
        return self._file(".ipynb")

    @property
    def task_file(self) -> Path:
        """The task file beside it."""
        return self._file(TASK_ENDING)

    @property
    def journal_file(self) -> Path:
        """Where the answer journal is written."""
        return self._file(JOURNAL_ENDING)

    def _file(self, ending: str) -> Path:
        return self.folder / f"{self.scenario.lab.id}{ending}"

    def events(self, event: str, exercise: str) -> list[dict[str, Any]]:
        """The entries of one sort that the journal file holds now, oldest first."""
        if not self.journal_file.exists():
            return []
        entries = [json.loads(line) for line in self.journal_file.read_bytes().splitlines()]
        return [e for e in entries if e["event"] == event and e.get("exercise") == exercise]

    def on_disk(self, name: str) -> list[Any]:
        """The answers to one exercise that the journal file holds now, oldest first."""
        return [entry["answer"] for entry in self.events("answer", name)]

    @cache  # noqa: B019 - a handful of objects that live as long as the test run
    def solutions(self) -> dict[str, Solution]:
        """What to answer, by exercise."""
        found = {}
        for exercise in self.scenario.lab.exercises:
            prepared = self.scenario.prepare(exercise)
            check = check_for(exercise.kind)
            found[exercise.id] = Solution(
                exercise.id,
                exercise.kind,
                prepared.ask,
                prepared.key,
                check.right_answer(prepared.ask, prepared.key),
                check.slip_answers(prepared.ask, prepared.key),
            )
        return found


@dataclass(frozen=True, eq=False)
class DealtClass:
    """A dealt class."""

    folder: ClassFolder
    lab: Lab
    deal: Deal
    _taken: dict[str, str] = field(default_factory=dict)

    @classmethod
    def make(cls, path: Path, mode: str) -> DealtClass:
        """Deal the demo class into a fresh folder; its lab has times of its own."""
        make_class(path, mode=mode)
        secret = sha256(mode.encode()).hexdigest()
        (path / SECRET_FILE).write_text(f"{secret}\n", encoding="utf-8")
        file = path / CLASS_FILE
        times = f"[{{lab: {LAB}, opens: 2026-11-20 09:00Z, deadline: 2099-12-31 12:00Z}}]"
        file.write_text(file.read_text("utf-8").replace(f"[{LAB}]", times), encoding="utf-8")
        folder = ClassFolder.open(path)
        result = deal(folder, lab_library())
        folder.hand_ins.mkdir(exist_ok=True)
        return cls(folder, folder.lab(LAB), result.deal)

    def desk(self, trainee: str) -> Desk:
        """The desk of one trainee. What a test answers there stays: no other test takes it."""
        (test, *_) = os.environ["PYTEST_CURRENT_TEST"].split("[")
        taken = self._taken.setdefault(trainee, test)
        assert taken == test, f"the desk of {trainee} belongs to {taken}: take another for {test}"
        return self._desk(trainee)

    @cache  # noqa: B019 - a handful of objects that live as long as the test run
    def _desk(self, trainee: str) -> Desk:
        item = self.deal.dealt.find(trainee, LAB)
        assert item is not None
        scenario = scenario_of(self.folder.secret(), self.folder.fields.id, self.lab, item)
        return Desk(self.folder.workbooks / trainee, scenario)


def class_of_one(path: Path, lab_folder: Path, mode: str, class_id: str, secret: str) -> Desk:
    """The desk of the one trainee of a new class that a lab of the tests is dealt to.

    The same id and secret give the same draw each time.
    """
    lab = lab_folder.name
    shutil.copytree(lab_folder, path / "labs" / lab)
    (path / "class.yaml").write_text(
        f"id: {class_id}\ntitle: Class of one\nlabs: [{lab}]\nmode: {mode}\n", encoding="utf-8"
    )
    (path / "roster.csv").write_text("id,name\nt01,Ansa Merrow\n", encoding="utf-8")
    (path / SECRET_FILE).write_text(f"{secret}\n", encoding="utf-8")
    folder = ClassFolder.open(path)
    item = deal(folder, lab_library()).deal.dealt.find("t01", lab)
    assert item is not None
    scenario = scenario_of(secret, class_id, folder.lab(lab), item)
    return Desk(folder.workbooks / "t01", scenario)


def drawn_desk(scenario: Scenario, folder: Path, *, practice: bool) -> Desk:
    """A desk without a class: the workbook of a scenario, written into a new folder."""
    folder.mkdir(exist_ok=True)
    task = task_data(
        scenario,
        workbook=folder.name,
        class_id="autumn",
        class_title="Autumn class",
        trainee={"id": "t01", "name": "Ansa Merrow"},
        practice=practice,
        deadline=None,
        signing_key="0" * 64,
    )
    WorkbookFiles.of(scenario, task).write(folder)
    return Desk(folder, scenario)

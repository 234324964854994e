"""A class of one with the lab of the virtual bench, and what its trainee should answer."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from dealt import Desk, class_of_one
from driving import Server

from labkit.doors.installed import check_for
from labkit.doors.verdict import Verdict

LAB_FOLDER = Path(__file__).parents[1] / "lab" / "labs" / "find-and-wire"
# The same draw each time: what the meters show, and which fault it is, depends on it.
SECRET = "5a" * 32


@dataclass(frozen=True, eq=False)
class BenchDesk(Desk):
    """The workbook folder of the one trainee, with the keys that the trainee does not have."""

    @cached_property
    def prepared(self) -> dict[str, Any]:
        """The exercises by their ids."""
        return {each.id: self.scenario.prepare(each) for each in self.scenario.lab.exercises}

    def files(self) -> str:
        """Everything that the trainee was given, as text."""
        return self.notebook.read_text("utf-8") + self.task_file.read_text("utf-8")

    def scored(self, exercise: str) -> Verdict:
        """What the class's own check says of the last answer on disk."""
        kind = "diagnosis" if exercise == "quiet-line" else "wiring"
        made = self.prepared[exercise]
        return check_for(kind).check(made.ask, made.key, self.on_disk(exercise)[-1])


def sit_down(server: Server, name: str, mode: str) -> BenchDesk:
    """Deal the lab to a class of one, in a folder called `name`."""
    desk = class_of_one(server.root / name, LAB_FOLDER, mode, "bench", SECRET)
    return BenchDesk(desk.folder, desk.scenario)

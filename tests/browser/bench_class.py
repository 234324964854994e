"""A class of one with the lab of the virtual bench, and what its trainee should answer."""

from __future__ import annotations

import json
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from driving import Server

from labkit.classroom.class_folder import SECRET_FILE, ClassFolder, lab_library
from labkit.classroom.dealing import deal, scenario_of
from labkit.lab.formats import JOURNAL_ENDING, TASK_ENDING
from labkit.lab.kinds import check_for
from labkit.lab.verdict import Verdict

LAB = "find-and-wire"
LAB_FOLDER = Path(__file__).parents[1] / "lab" / "labs" / LAB
# The same draw each time: what the meters show, and which fault it is, depends on it.
SECRET = "5a" * 32


@dataclass(frozen=True)
class BenchDesk:
    """The workbook folder of the one trainee, with the keys that the trainee does not have."""

    folder: Path
    prepared: dict[str, Any]

    @property
    def notebook(self) -> Path:
        """The workbook."""
        return self.folder / f"{LAB}.ipynb"

    def files(self) -> str:
        """Everything that the trainee was given, as text."""
        task = self.folder / f"{LAB}{TASK_ENDING}"
        return self.notebook.read_text("utf-8") + task.read_text("utf-8")

    def events(self, event: str, exercise: str) -> list[dict[str, Any]]:
        """The entries of one sort that the journal holds, oldest first."""
        lines = (self.folder / f"{LAB}{JOURNAL_ENDING}").read_bytes().splitlines()
        entries = [json.loads(line) for line in lines]
        return [e for e in entries if e["event"] == event and e.get("exercise") == exercise]

    def scored(self, exercise: str) -> Verdict:
        """What the class's own check says of the last answer on disk."""
        kind = "diagnosis" if exercise == "quiet-line" else "wiring"
        made = self.prepared[exercise]
        answer = self.events("answer", exercise)[-1]["answer"]
        return check_for(kind).check(made.ask, made.key, answer)


def sit_down(server: Server, name: str, mode: str) -> BenchDesk:
    """Deal the lab to a class of one, in a folder called `name`."""
    path = server.root / name
    shutil.copytree(LAB_FOLDER, path / "labs" / LAB)
    (path / "class.yaml").write_text(
        f"id: bench\ntitle: Bench\nlabs: [{LAB}]\nmode: {mode}\n", encoding="utf-8"
    )
    (path / "roster.csv").write_text("id,name\nt01,Ansa Merrow\n", encoding="utf-8")
    (path / SECRET_FILE).write_text(f"{SECRET}\n", encoding="utf-8")
    folder = ClassFolder.open(path)
    item = deal(folder, lab_library()).deal.find("t01", LAB)
    assert item is not None
    scenario = scenario_of(folder.secret(), folder.fields.id, folder.lab(LAB), item)
    prepared = {e.id: scenario.prepare(e) for e in scenario.lab.exercises}
    return BenchDesk(folder.workbooks / "t01", prepared)

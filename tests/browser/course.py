"""One lab of the course, dealt to one trainee for practice, and its hand-in scored."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from dealt import Desk

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import deal
from labkit.classroom.dealing.deal_record import write_deal
from labkit.classroom.dealing.seeds import seed_of, workbook_id
from labkit.classroom.dealt import Bounds, Deal, Dealt, Roll
from labkit.classroom.marks.scoring import score
from labkit.classroom.result import Result
from labkit.lab.draw import Scenario, draw
from labkit.lab.library import lab_library
from labkit.lab.marking_rules import rules_of
from labkit.lab.reading import read_lab

TRAINEE, NAME = "t01", "Ansa Merrow"
CLASS = "course"
SECRET = "5c" * 32
"""Always the same, so that every run clicks through the same numbers."""

IN_THE_NOTEBOOK = (
    "acceptance",
    "controller-and-chassis",
    "logic-that-tests",
    "scan-list-and-io-map",
    "troubleshooting",
    "wiring-and-terminators",
)
"""The fewest labs in which, beside the demo's, every kind of exercise of the course is worked at.
These are clicked through in JupyterLab, the others on their pages: both hosts show the same page
modules, and what they say and save is compared in tests/answering/test_second_host.py."""


def labs_of_the_course() -> list[str]:
    """Every lab that there is a folder for."""
    return sorted(file.parent.name for file in lab_library().glob("*/lab.md"))


def share_of_the_course(part: int, parts: int) -> list[str]:
    """Some of the labs, so that several processes can click through the course together."""
    return labs_of_the_course()[part - 1 :: parts]


@dataclass(frozen=True, eq=False)
class CourseDesk(Desk):
    """The workbook of one lab, and the class that it was dealt in."""

    class_folder: ClassFolder

    @classmethod
    def sit_down(
        cls, path: Path, lab: str, mode: str = "practice", held: str = "laptops"
    ) -> CourseDesk:
        """Deal a lab to a class of one.

        The class's record says beforehand which draw it is to be: to compare draws with others
        is no use in a class of one, and takes longer than all the rest.
        """
        path.mkdir()
        rules = f"mode: {mode}\nheld: {held}\n"
        for file, text in {
            "class.yaml": f"id: {CLASS}\ntitle: Course\nlabs: [{lab}]\n{rules}",
            "roster.csv": f"id,name\n{TRAINEE},{NAME}\n",
            "class-secret.txt": f"{SECRET}\n",
        }.items():
            (path / file).write_text(text, encoding="utf-8")
        folder = ClassFolder.open(path)
        scenario = draw(read_lab(lab_library() / lab / "lab.md"), seed_of_the_course(lab))
        write_deal(folder, _record(scenario))
        deal(folder, lab_library())
        folder.hand_ins.mkdir(exist_ok=True)
        return cls(folder.workbooks / TRAINEE, scenario, folder)

    def scored(self) -> Result:
        """The result of the hand-in that lies in the class's folder."""
        return score(self.class_folder).results[0]


def seed_of_the_course(lab: str) -> str:
    """The seed of the first candidate that the class of one has."""
    return seed_of(SECRET, CLASS, lab, TRAINEE, 0)


def _record(scenario: Scenario) -> Deal:
    lab = scenario.lab
    workbook = workbook_id(SECRET, CLASS, lab.id, TRAINEE)
    item = Dealt(TRAINEE, NAME, lab.id, 0, scenario.tries, workbook, scenario.fingerprint)
    edition = {"version": lab.version, "digest": lab.digest, "rules": rules_of(lab)}
    anything = Bounds(None, None, len(lab.exercises), (), ())
    return Deal({lab.id: edition}, Roll([item]), {lab.id: anything})

"""What a preview shows now: the last text that could be drawn, and what is wrong in the newest."""

from __future__ import annotations

import os
import secrets
from collections.abc import Mapping
from pathlib import Path
from threading import Lock
from typing import Any

from labkit.errors import LabkitError, sentences
from labkit.exchange.clock import CLOCK
from labkit.exchange.formats import TASK_ENDING
from labkit.lab.reading import read_in_part
from labkit.lab.reading.in_part import ReadInPart
from labkit.language.problems import DefinitionError, Place, Problem, at_most
from labkit.page.drill import Drill
from labkit.preview.card_desk import CardDesk, Entries
from labkit.preview.drawn import Drawn, drawn, nothing_drawn
from labkit.preview.quick_proof import DRAWS
from labkit.preview.told import Lines
from labkit.preview.watched import Watched
from labkit.workbook.handout import Sheet, handouts, instructors_copy
from labkit.workbook.preview import fresh_seed

NOTHING_YET = "Nothing can be drawn yet: mend what is wrong first."


class NothingShownError(LabkitError):
    """There is nothing to print."""


class Previewed:
    """A lab that is looked at while it is written. May be asked from several threads.

    Journals lie in `folder`, which whoever made it takes away again. What was answered stays with
    an exercise for as long as it asks the same, also when that comes back later; so does its drill.
    """

    def __init__(self, file: Path, seed: str, folder: Path, *, practice: bool) -> None:
        self.watched = Watched(file)
        self._folder, self._lock = folder, Lock()
        self._seeds, self._practice = [seed], practice
        self._workbook = f"preview-{secrets.token_hex(8)}"
        # Drafts of an earlier preview are cleared by the page, since they are of another name.
        self._name = f"Preview, opened {CLOCK.moment().astimezone():%H:%M:%S}"
        self._answered: dict[tuple[str, str], Entries] = {}
        self._drills: dict[tuple[str, str], Drill] = {}
        self._read = ReadInPart(None, ())
        self._problems: list[dict[str, Any]] = []
        self._lines = Lines(())
        self._edition = 0
        self._saved = self._shown_saved = ""
        self._proof: dict[str, Any] = {"state": "waits", "done": 0, "findings": [], "accepted": []}
        title = Path(os.path.abspath(file)).parent.name  # a link may lead in a circle
        self._show(nothing_drawn(title, workbook=self._workbook, name=self._name), [])
        self.watched.changed()
        self.read_again()

    @property
    def seed(self) -> str:
        """The seed of the draw that is shown."""
        return self._seeds[-1]

    @property
    def readable(self) -> bool:
        """Whether all of the newest text can be read, so that it can be proof-read."""
        return self._read.lab is not None and not self._read.problems

    def read_again(self) -> None:
        """Read the newest text, and show what can be shown of it."""
        with self._lock:
            self._saved = self.watched.saved
            self._read = _read(self.watched.path)
            self.watched.is_made_of(self._read.files)
            self._lines = Lines(self.watched.files)
            self._draw()

    def another_draw(self) -> None:
        """Draw other numbers."""
        self.draw_of(fresh_seed())

    def draw_of(self, seed: str) -> None:
        """Draw the numbers of a seed."""
        with self._lock:
            if seed != self._seeds[-1]:
                self._seeds.append(seed)
            self._draw()

    def draw_before(self) -> None:
        """Draw again what was seen before."""
        with self._lock:
            if len(self._seeds) > 1:
                self._seeds.pop()
            self._draw()

    def as_of(self, *, practice: bool) -> None:
        """Show it as a practice class gets it, or as an assessed one."""
        with self._lock:
            self._practice = practice
            self._draw()

    def told(self) -> dict[str, Any]:
        """What a page is told beside the workbook."""
        return {
            "seed": self._seeds[-1],
            "earlier": len(self._seeds) > 1,
            "practice": self._practice,
            "saved": self._saved,
            "shown": self._shown_saved,
            "old": self._shown_saved != self._saved or self._failed,
            "drawn": self._drawn.scenario is not None,
            "problems": self._problems,
            "proof": {**self._proof, "draws": DRAWS},
        }

    def paper(self, *, solved: bool) -> bytes:
        """The page as print makes it, or the instructor's copy. Raises `NothingShownError`."""
        scenario = self._drawn.scenario
        if scenario is None:
            raise NothingShownError(NOTHING_YET)
        return (instructors_copy if solved else handouts)([Sheet(scenario)])

    def proof_begins(self) -> None:
        """Proof-reading begins, or waits until all can be read; earlier findings stay till then."""
        state = "begun" if self.readable else "waits"
        self._proof = {**self._proof, "state": state, "done": 0}

    def proof_told(self, said: Mapping[str, Any]) -> None:
        """What the process that proof-reads says."""
        report = said.get("report")
        if report is None:
            self._proof = {**self._proof, "done": said["done"]}
            return
        if self._read.lab is None or report["digest"] != self._read.lab.digest:
            return
        lines = self._lines
        accepted = [lines.finding(each, each["accepted"]["because"]) for each in report["accepted"]]
        self._proof = {
            "state": "done",
            "done": DRAWS,
            "saved": self._saved,
            "findings": [lines.finding(each) for each in report["findings"]],
            "accepted": accepted,
        }

    def proof_ended(self) -> None:
        """The process is there no more."""
        if self._proof["state"] == "begun":
            self._proof = {**self._proof, "state": "ended"}

    def _draw(self) -> None:
        """Draw the newest text; where that cannot be, what was drawn last stays."""
        read, lab = self._read, self._read.lab
        self._failed = lab is None
        if lab is None:
            self._fails(read.problems)
            return
        try:
            new = drawn(
                read,
                lab,
                self._seeds[-1],
                practice=self._practice,
                workbook=self._workbook,
                name=self._name,
            )
            of = {each: card.exercise for card in new.cards.values() for each in card.problems}
            problems = at_most(dict.fromkeys((*read.problems, *new.problems)))
            told = [self._lines.problem(each, of.get(each, "")) for each in problems]
            self._show(new, told)
        except DefinitionError as error:
            self._fails((*read.problems, *error.problems))
        except Exception as error:  # a kind of another package may do anything
            told_of = " ".join(sentences(error))
            self._fails((*read.problems, Problem(Place(lab.place.file, 1), told_of)))
        else:
            self._problems, self._shown_saved = told, self._saved

    def _fails(self, problems: tuple[Problem, ...]) -> None:
        self._failed = True
        of = {each: broken.id for broken in self._read.broken for each in broken.problems}
        self._problems = [self._lines.problem(each, of.get(each, "")) for each in at_most(problems)]

    def _show(self, new: Drawn, told: list[dict[str, Any]]) -> None:
        self._keep_answers()
        answered = [self._answered.get((name, is_.asked), ()) for name, is_ in new.digests.items()]
        entries = tuple(entry for each in answered for entry in each)
        drills = {
            name: self._drills[name, is_.drill]
            for name, is_ in new.digests.items()
            if (name, is_.drill) in self._drills
        }
        self._edition += 1
        file = self._folder / f"{self._edition}{TASK_ENDING}"
        self.desk = CardDesk(new, self._edition, file, told, entries, drills)
        self._drawn = new

    def _keep_answers(self) -> None:
        if not self._edition:
            return  # nothing was shown yet
        for name, entries in self.desk.entries().items():
            self._answered[name, self._drawn.digests[name].asked] = entries
        for name, drill in self.desk.drills().items():
            self._drills[name, self._drawn.digests[name].drill] = drill


def _read(path: Path) -> ReadInPart:
    try:
        return read_in_part(path)
    except Exception as error:  # a family of another package may do anything
        return ReadInPart(None, (Problem(Place(path.name, 1), " ".join(sentences(error))),))

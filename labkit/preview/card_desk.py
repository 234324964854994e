"""A workbook in which an exercise that cannot be shown has a card in its place."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final, cast

from labkit.exchange.journal import OF_EXERCISES, Journal
from labkit.exchange.task_file import journal_path
from labkit.page.desk import Desk, ExerciseNow, Opened, SavedBy
from labkit.page.drill import Drill
from labkit.preview.drawn import Card, Drawn

CARD: Final = "card"
"""What a page asks for as the kind of such an exercise; no kind is called so."""
_SCRIPT: Final = Path(__file__).resolve().with_name("card.js")
Entries = tuple[dict[str, Any], ...]


class ExerciseOfEdition(ExerciseNow):
    """By `same` a page knows whether it is still the same: what is asked, all of it, its drills."""

    same: tuple[str, str, str]


class OpenedEdition(Opened):
    """The workbook as it is now, and which writing of its lab that is."""

    edition: int


class CardDesk(Desk):
    """The workbook of a preview. `entries` is what was answered before and still fits.

    So are `drills` those that were drawn. `told` are the problems as a page tells them.
    """

    def __init__(
        self,
        drawn: Drawn,
        edition: int,
        file: Path,
        told: list[dict[str, Any]],
        entries: Entries,
        drills: Mapping[str, Drill],
    ) -> None:
        self._cards, self._told = drawn.cards, told
        self._same = {
            name: (each.asked, each.whole, each.drill) for name, each in drawn.digests.items()
        }
        self._edition = edition
        self._kept = Journal(journal_path(file))
        for entry in entries:
            known = {name: entry[name] for name in entry if name not in ("at", "session", "event")}
            self._kept.append(entry["event"], **known)
        lab = drawn.scenario.lab if drawn.scenario else None
        super().__init__(drawn.task, file, drawn.sheet, lab=lab)
        if self._drills:
            for name, drill in drills.items():
                self._drills.go_on(name, drill)

    @property
    def scripts(self) -> dict[str, Path]:
        """The page module of each kind, and that of cards."""
        return {**super().scripts, CARD: _SCRIPT}

    def opened(self) -> OpenedEdition:
        """The workbook as it is now, with its cards."""
        now = super().opened()
        cards = {name: _now(card) for name, card in self._cards.items()}
        exercises = {
            name: {**each, "same": self._same[name]}
            for name, each in (now["exercises"] | cards).items()
        }
        return cast(OpenedEdition, {**now, "exercises": exercises, "edition": self._edition})

    def shown(self, name: str) -> Any:
        """What an exercise shows, or its card."""
        card = self._cards.get(name)
        if card is None:
            return super().shown(name)
        problems = [each for each in self._told if each["exercise"] == name]
        return {"title": card.title, "problems": problems, "view": {}, "steps": 0}

    def drills(self) -> Mapping[str, Drill]:
        """The last drill of each exercise that has one."""
        return self._drills.last if self._drills else {}

    def entries(self) -> dict[str, Entries]:
        """What was answered so far, of each exercise."""
        found: dict[str, Entries] = {}
        for entry in self._kept.read().entries:
            if entry["event"] in OF_EXERCISES:
                name = str(entry.get("exercise"))
                found[name] = (*found.get(name, ()), entry)
        return found


def _now(card: Card) -> ExerciseNow:
    unanswered: SavedBy = {
        "token": "",
        "answered": False,
        "answer": None,
        "at": "",
        "hints": [],
        "verdict": None,
        "example": None,
    }
    return {"kind": CARD, "title": card.title, "saved": unanswered, "steps": 0, "drills": False}

"""The retake panel: who may try again, at what, and the button that deals it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import ipywidgets as widgets  # type: ignore[import-untyped]
import pandas as pd

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import workbook_folder
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.dealt import Dealt
from labkit.classroom.errors import ClassError
from labkit.classroom.handins.retaking import attempts_of, retake
from labkit.classroom.progress import Progress
from labkit.desk.panels import Panel, paragraph, table, wrong
from labkit.lab.library import lab_library

EVERY_LAB: Final = ""
_ROWS: Final = 8


class RetakePanel(widgets.VBox):  # type: ignore[misc]
    """Names to choose from, a lab, a button. Nothing is dealt before the button is pressed."""

    def __init__(self, opened: Callable[[], ClassFolder]) -> None:
        self._opened = opened
        self.who = widgets.SelectMultiple(
            description="Who", rows=_ROWS, layout={"width": "420px", "max_width": "100%"}
        )
        self.lab = widgets.Dropdown(
            description="Lab", options=[("every lab", EVERY_LAB)], layout={"width": "420px"}
        )
        self.panel = Panel("Deal a retake", self._deal)
        super().__init__([self.who, self.lab, self.panel])
        self._look()

    def _look(self) -> None:
        try:
            folder = self._opened()
            people = {item.last.trainee: item.last.name for item in attempts_of(folder)}
            labs = folder.fields.labs
        except Exception as error:
            self.panel.say(wrong(error))
            return
        chosen = self.who.value
        self.who.options = [(f"{name} ({who})", who) for who, name in people.items()]
        self.who.value = tuple(who for who in chosen if who in people)
        self.lab.options = [("every lab", EVERY_LAB), *((name, name) for name in labs)]
        if not people:
            self.panel.say(paragraph("Nobody was dealt anything yet: deal first."))

    def _deal(self, progress: Progress) -> str:
        folder, who = self._opened(), self.who.value
        if not who:
            # The class may have been dealt after this panel was shown.
            self._look()
            if not self.who.options:
                raise ClassError("Nobody was dealt anything yet: deal first.")
            raise ClassError("Choose who may try again: a click; Ctrl and a click for more.")
        lab = self.lab.value or None
        before = {item.workbook for item in read_deal(folder).dealt}
        result = retake(folder, lab_library(), who, lab, progress)
        new = [item for item in result.deal.dealt if item.workbook not in before]
        rows = [(item.name, item.lab, item.attempt, _to_give_out(folder, item)) for item in new]
        left = [item.sentence for item in attempts_of(folder, who, lab)]
        frame = pd.DataFrame(rows, columns=["name", "lab", "attempt", "folder to give out"])
        return "".join([table(frame), *map(paragraph, left)])


def _to_give_out(folder: ClassFolder, item: Dealt) -> str:
    return "none" if folder.fields.in_room(item.lab) else str(workbook_folder(folder, item))

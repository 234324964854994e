"""The class-day notebook: deal, see who has handed in, score."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import nullcontext
from pathlib import Path

import ipywidgets as widgets  # type: ignore[import-untyped]
import pandas as pd

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.dealing.open_texts import remarks_on_secrecy
from labkit.classroom.dealing.opening_times import remarks_on_opening
from labkit.classroom.dealing.roster_changes import remarks_on_gone
from labkit.classroom.marks.scoring import score
from labkit.classroom.progress import Progress
from labkit.classroom.scored.score_and_write import score_and_write
from labkit.desk.opening import class_or_demo, deal_and_play, is_demo
from labkit.desk.panels import Panel, as_html, paragraph, table, wrong
from labkit.desk.retakes import RetakePanel
from labkit.desk.tables import class_table, hand_in_table, lab_table, notice_table, score_table
from labkit.lab.library import lab_library


class ClassDay:
    """One class on its day. Buttons do things; opening a class does nothing to it.

    Only the demo class acts by itself, so that the notebook shows all of itself when it is run.
    """

    def __init__(self, path: str) -> None:
        self._path = Path(path)

    def overview(self) -> widgets.HTML:
        """The class's rules and its people, or what is wrong with its folder."""
        try:
            folder = self._opened()
            fields = folder.fields
            mark = fields.pass_mark
            of_all = {"mode": fields.mode, "deadline (UTC)": fields.deadline or "none"}
            rules = {
                "labs": ", ".join(fields.labs),
                **(of_all if fields.same_for_all else {}),
                "late hand-ins": fields.late,
                "attempts": "any number" if fields.attempts is None else str(fields.attempts),
                "pass mark": "none" if mark is None else f"{mark:g} %",
            }
            return as_html(
                paragraph(f"{fields.title}: {len(folder.trainees)} trainees."),
                *(paragraph(f"! {remark}") for remark in _remarks(folder)),
                table(pd.DataFrame(rules.items(), columns=["rule", "this class"])),
                "" if fields.same_for_all else table(lab_table(fields)),
                table(class_table(folder)),
            )
        except Exception as error:
            return as_html(wrong(error))

    def dealing(self) -> Panel:
        """The button that deals; safe to press again."""
        return self._panel("Deal workbooks", self._deal)

    def hand_ins(self) -> Panel:
        """The button that looks through what came back."""
        return self._panel("Look through hand-ins", self._look)

    def scoring(self) -> Panel:
        """The button that scores and writes the sheet and the pages."""
        return self._panel("Score", self._score)

    def retakes(self) -> RetakePanel:
        """Who may try again, and the button that deals them new numbers."""
        return RetakePanel(self._opened)

    def _panel(self, words: str, action: Callable[[Progress], str]) -> Panel:
        panel = Panel(words, action)
        try:
            plays = is_demo(self._opened())
        except Exception as error:
            panel.say(wrong(error))
            return panel
        return panel.press() if plays else panel

    def _opened(self) -> ClassFolder:
        # Read anew each time: the roster may have grown since the notebook was opened.
        return class_or_demo(self._path)

    def _deal(self, progress: Progress) -> str:
        folder = self._opened()
        result, played = deal_and_play(folder, progress)
        words = f"{result.new} dealt, {result.kept} were dealt already."
        if played:
            words += " This is the demo class: its trainees were played."
        remarks = [
            *remarks_on_secrecy(folder, result.deal, lab_library()),
            *remarks_on_opening(folder),
        ]
        told = "".join(paragraph(f"! {remark}") for remark in remarks)
        return paragraph(words) + told + table(class_table(folder))

    def _look(self, progress: Progress) -> str:
        scoring = score(self._opened(), progress)
        frame, notices = hand_in_table(scoring), notice_table(scoring)
        counts = frame["state"].value_counts()
        parts = [paragraph(", ".join(f"{counts[state]} {state}" for state in counts.index) + ".")]
        if len(notices):
            parts += [paragraph("Please look at these files:"), table(notices)]
        return "".join([*parts, table(frame)])

    def _score(self, progress: Progress) -> str:
        folder = self._opened()
        written = score_and_write(folder, lambda _: nullcontext(progress))
        scoring, pages = written.scoring, written.pages
        files = [pages[0], written.debrief, written.analysis, written.csv, written.xlsx]
        frame = score_table(scoring)
        lab = ["lab"] if len(scoring.labs) > 1 else []
        shown = frame[["name", *lab, "state", "marks", "out of", "waiting", "percent", "slips"]]
        names = ", ".join(file.name for file in files)
        return table(shown) + paragraph(
            f"Written into {folder.scores}: {names}, and {len(pages) - 1} pages for trainees."
        )


def _remarks(folder: ClassFolder) -> list[str]:
    return [*folder.roster_remarks, *remarks_on_gone(folder, read_deal(folder))]

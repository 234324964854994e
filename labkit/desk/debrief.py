"""The debrief notebook: what the class understood, and what to teach again."""

from __future__ import annotations

from html import escape
from pathlib import Path

import ipywidgets as widgets  # type: ignore[import-untyped]
import pandas as pd
from IPython.display import display

from labkit.classroom.analysis.items import ItemFigures
from labkit.classroom.analysis.options_taken import OptionsTaken
from labkit.classroom.analysis.teach_again import spoken
from labkit.classroom.analysis.whole import LabAnalysis, analyse
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.marks.scoring import score
from labkit.classroom.pages.debrief import debrief_page
from labkit.classroom.progress import Progress
from labkit.desk.opening import class_or_demo, deal_and_play, is_demo
from labkit.desk.panels import as_html, dressed, paragraph, table, wrong
from labkit.desk.tables import exercise_table
from labkit.language.markdown import message_html

_NOTHING = paragraph("No hand-in that counts has come in yet: there is nothing to debrief.")


class Debrief:
    """One class after its day. Nothing but `in_person` shows a trainee's name."""

    def __init__(self, path: str) -> None:
        self._folder: ClassFolder | None = None
        self._labs: tuple[LabAnalysis, ...] = ()
        self._handed_in, self._dealt = 0, 0
        self._trouble = ""
        bar = widgets.IntProgress(description="Looking", layout={"width": "100%"})
        display(bar)  # type: ignore[no-untyped-call]

        def step(done: int, everything: int) -> None:
            bar.max, bar.value = everything, done

        try:
            self._open(Path(path), step)
        except Exception as error:
            self._trouble = wrong(error)
        bar.close()

    def summary(self) -> widgets.HTML:
        """How many handed in, or what is wrong with the class."""
        if self._trouble:
            return as_html(self._trouble)
        assert self._folder is not None
        title = self._folder.fields.title
        return as_html(paragraph(f"{title}: {self._handed_in} of {self._dealt} handed in."))

    def page(self) -> widgets.HTML:
        """The debrief page, as it is in the class's folder too."""
        if self._folder is None or not self._labs:
            return as_html(self._nothing)
        page = escape(debrief_page(self._folder, self._labs, self._results), quote=True)
        return widgets.HTML(
            f'<iframe title="Debrief" sandbox srcdoc="{page}" '
            'style="width:100%;height:1200px;border:0"></iframe>'
        )

    def exercise(self) -> widgets.Widget:
        """A list of exercises to choose from, the hardest first shown, and what happened in it."""
        if not self._labs:
            return as_html(self._nothing)
        choices = [
            (self._name(lab, index), (place, index))
            for place, lab in enumerate(self._labs)
            for index in range(len(lab.items))
        ]
        if not choices:
            return as_html(
                paragraph("Every exercise waits for a mark of yours: see 'labkit mark'.")
            )
        hardest = min(choices, key=lambda choice: self._item(*choice[1]).difficulty)
        chooser = widgets.Dropdown(
            options=choices, value=hardest[1], description="Exercise", layout={"width": "520px"}
        )
        below = widgets.HTML(self._view(*hardest[1]))
        chooser.observe(lambda change: setattr(below, "value", self._view(*change["new"])), "value")
        return widgets.VBox([chooser, below])

    def table(self) -> widgets.HTML:
        """The figures of every exercise, how far totals can be trusted, what the draw did."""
        return as_html(*[self._figures(lab) for lab in self._labs] or [self._nothing])

    def in_person(self) -> widgets.Widget:
        """Alike hand-ins, with names, hidden until the box is ticked."""
        box = widgets.Checkbox(description="Show names", value=False, indent=False)
        below = widgets.HTML(dressed(paragraph("Hidden.")))

        def shown(change: dict[str, bool]) -> None:
            below.value = dressed(self._named() if change["new"] else paragraph("Hidden."))

        box.observe(shown, "value")
        return widgets.VBox([box, below])

    @property
    def _nothing(self) -> str:
        """Why there is nothing to show."""
        return self._trouble or _NOTHING

    def _open(self, path: Path, step: Progress) -> None:
        folder = class_or_demo(path)
        if is_demo(folder) and not read_deal(folder).dealt:
            deal_and_play(folder, step)
        scoring = score(folder, step)
        self._labs = analyse(scoring.labs, scoring.results, scoring.results.beside, step)
        self._handed_in = sum(result.counts for result in scoring.results)
        self._dealt, self._folder = len(scoring.results), folder
        self._results = scoring.results

    def _item(self, place: int, index: int) -> ItemFigures:
        return self._labs[place].items[index]

    def _name(self, lab: LabAnalysis, index: int) -> str:
        item = lab.items[index]
        name = f"{item.number}. {item.title}"
        return f"{name} ({lab.table.lab.title})" if len(self._labs) > 1 else name

    def _view(self, place: int, index: int) -> str:
        lab = self._labs[place]
        item, effort = lab.items[index], lab.effort[index]
        words = (
            f"{100 * item.difficulty:.0f} % of its marks were earned; {spoken(item.blank)} left it "
            f"blank. {effort.tries} answers by {spoken(effort.answered)}"
        )
        if effort.median_minutes is not None:
            words += f", median time {effort.median_minutes:.1f} minutes"
        words += f"; {spoken(effort.took_hints)} took hints."
        slips = [
            f"<tr><td>{slip.count}</td><td>{message_html(slip.told, links=False)}</td></tr>"
            for slip in lab.slips
            if slip.exercise == item.exercise
        ]
        told = "<th>Trainees</th><th>They were told (numbers: one trainee's own)</th>"
        parts = [paragraph(words)]
        parts.append(
            f"<table><tr>{told}</tr>{''.join(slips)}</table>"
            if slips
            else paragraph("No known mistake was made here.")
        )
        parts += [_options_table(taken) for taken in lab.options if taken.exercise == item.exercise]
        return dressed(*parts)

    def _figures(self, lab: LabAnalysis) -> str:
        parts = [table(exercise_table(lab))]
        error = lab.reliability.standard_error
        if error is not None:
            marks = lab.table.possible.sum()
            parts.append(
                paragraph(
                    f"A total is good to about ± {error:.1f} of {marks:g} marks "
                    "(one standard error)."
                )
            )
        for effect in lab.plain_effects:
            parts.append(
                paragraph(
                    f"The draw mattered: {effect.parameter} = {effect.harder} was harder than "
                    f"{effect.easier} in {effect.title}."
                )
            )
        return "".join(parts)

    def _named(self) -> str:
        if not self._labs:
            return self._nothing
        parts = []
        for lab in self._labs:
            who = [result.dealt.name for result in lab.table.results]
            for pair in lab.more_copied:
                hits = "; ".join(f"{hit.number}. {hit.title}: {hit.written}" for hit in pair.hits)
                parts.append(
                    f"{who[pair.writer]} wrote what is wrong with their own numbers and right with "
                    f"those of {who[pair.owner]}: {hits}."
                )
            for alike in lab.more_alike:
                places = ", ".join(str(lab.table.numbers[index]) for index in alike.exercises)
                parts.append(
                    f"{who[alike.first]} and {who[alike.second]} made the same mistakes "
                    f"in {places}."
                )
        narrowed = [lab.copied.narrowed for lab in self._labs if lab.copied.narrowed]
        return "".join(map(paragraph, (parts or ["Nothing stands out."]) + narrowed[:1]))


def _options_table(taken: OptionsTaken) -> str:
    frame = pd.DataFrame(
        {
            "what they could take": option.text,
            "as typed": option.as_typed,
            "taken, rightly": option.rightly,
            "taken, wrongly": option.wrongly,
        }
        for option in taken.options
    )
    typed = any(option.typed for option in taken.options)
    return table(frame if typed else frame.drop(columns="as typed"))

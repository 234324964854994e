"""What proof-reading found as one page for a colleague, which fetches nothing.

Every finding stands at its exercise with its line, and each exercise has an example with its answer
and its working. Of a lab that cannot be read the page tells the mistakes at their lines.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Final

from markupsafe import Markup

from labkit import __version__
from labkit.doors.check import Solves
from labkit.doors.installed import check_for
from labkit.front_end.written_pages import WRITTEN_POLICY, Pages
from labkit.lab.definition import Exercise, Lab
from labkit.lab.draw import Scenario, draw
from labkit.lab.reading.definition_file import lines_of, shown_name, text_as_it_is
from labkit.lab.reading.lineage import lineage, with_taken
from labkit.language.markdown import plain, to_html
from labkit.language.problems import DefinitionError, Place
from labkit.proofing.engine import Report
from labkit.proofing.findings import Finding, Severity
from labkit.proofing.sample import PROOF_SEED, offered_texts

_SCROLLS: Final = '<div class="scrolls" tabindex="0" role="group" aria-label="Table">'
_LONGEST_LINE: Final = 300
_MOST_DRAWS: Final = 8
"""So many draws are looked at for one that gives an example."""


@dataclass(frozen=True, slots=True)
class Example:
    """An exercise in one draw, as HTML; "" where there is nothing to show.

    `offered` are its options, items or cells: what there is to read besides the question.
    """

    question: str
    offered: Sequence[str]
    answer: str
    working: str


@dataclass(frozen=True, slots=True)
class Shown:
    """A finding as the page shows it: `source` is its line in the definition."""

    finding: Finding
    source: str
    because: str = ""


@dataclass(frozen=True, slots=True)
class Part:
    """What there is of one exercise, or of the lab as a whole (`exercise` is None)."""

    exercise: Exercise | None
    found: Sequence[Shown]
    accepted: Sequence[Shown]
    title: str = ""
    example: Example | None = None


def texts_of(path: Path) -> dict[str, str]:
    """The texts of the files that the definition at `path` is made of, by their shown names.

    Where that cannot be known, its own text alone; what is no text is left out.
    """
    try:
        return {item.source.file: item.text for item in with_taken(lineage(path, in_part=True))}
    except DefinitionError:
        return {shown_name(path): text_as_it_is(path)}


def report_page(report: Report, texts: Mapping[str, str]) -> str:
    """The page. `texts` are the definition's files, by the names that findings carry."""
    lab = report.lab
    scenario = _scenario(lab)
    return _pages().filled(
        "report.html",
        policy=WRITTEN_POLICY,
        tokens=_tokens(),
        lab=lab,
        report=report,
        made_by=__version__,
        seed=scenario.seed if scenario else "",
        counts=[(severity.value, len(report.of(severity))) for severity in Severity],
        whole=_part(report, texts, None, None),
        parts=[_part(report, texts, exercise, scenario) for exercise in lab.exercises],
        picture=_picture(lab, scenario),
        costs=[(cost, _source(texts, cost.place)) for cost in report.told_costs],
    )


def unreadable_page(error: DefinitionError, path: Path) -> str:
    """The page on a definition that cannot be read."""
    texts = texts_of(path)
    return _pages().filled(
        "unreadable.html",
        policy=WRITTEN_POLICY,
        tokens=_tokens(),
        name=Path(os.path.abspath(path)).parent.name,
        problems=[(problem, _source(texts, problem.place)) for problem in error.problems],
        made_by=__version__,
    )


def _tokens() -> Markup:
    return Markup(files("labkit.front_end").joinpath("tokens.css").read_text("utf-8"))


@lru_cache(maxsize=1)
def _pages() -> Pages:
    return Pages("labkit.proofing", {"sign": _SIGNS.__getitem__, "words": _WORDS.__getitem__})


_SIGNS: Final = {Severity.MUST: "✗", Severity.LOOK: "?", Severity.NOTE: "·"}
_WORDS: Final = {Severity.MUST: "must", Severity.LOOK: "look", Severity.NOTE: "note"}


def _scenario(lab: Lab) -> Scenario | None:
    """The first draw that there is."""
    for number in range(1, _MOST_DRAWS + 1):
        try:
            return draw(lab, PROOF_SEED.format(number))
        except DefinitionError:
            continue
    return None


def _part(
    report: Report, texts: Mapping[str, str], exercise: Exercise | None, scenario: Scenario | None
) -> Part:
    name = exercise.id if exercise else ""
    found = [
        Shown(item, _source(texts, item.place)) for item in report.findings if item.exercise == name
    ]
    accepted = [
        Shown(item.finding, _source(texts, item.finding.place), item.word.because)
        for item in report.accepted
        if item.finding.exercise == name
    ]
    if exercise is None:
        return Part(None, found, accepted)
    title, example = exercise.title.text, None
    if scenario:
        try:
            title = exercise.title.render(scenario.names)
            example = _example(scenario, exercise)
        except DefinitionError:
            pass  # a formula without a value is a finding already
    return Part(exercise, found, accepted, title, example)


def _example(scenario: Scenario, exercise: Exercise) -> Example:
    prepared = scenario.prepare(exercise)
    check, ask, key = check_for(exercise.kind), prepared.ask, prepared.key_as_needed
    right = check.right_answer(ask, key)
    if check.check(ask, key, right).awaits:
        answer = str(prepared.key.get("model", ""))
    elif isinstance(check, Solves):
        answer = check.solved(ask, key)
    else:
        answer = plain(check.shown(ask, right))
    return Example(
        question=_html(exercise.question.render(scenario.names)),
        offered=[_html(text) for text in offered_texts(ask)],
        answer=_html(answer) if answer else "",
        working=_html(exercise.working.render(scenario.names)),
    )


def _html(text: str) -> str:
    """Markdown as HTML; what scrolls sideways on a narrow page can be reached by keys."""
    html = to_html(text, links=False)
    html = html.replace("<table>", f"{_SCROLLS}<table>").replace("</table>", "</table></div>")
    return html.replace("<pre>", '<pre tabindex="0">')


def _picture(lab: Lab, scenario: Scenario | None) -> str:
    return lab.network.draw(scenario.network) if lab.network and scenario else ""


def _source(texts: Mapping[str, str], place: Place) -> str:
    """The line of the definition that a finding is of."""
    lines = lines_of(texts.get(place.file, ""))
    line = lines[place.line - 1].strip() if 0 < place.line <= len(lines) else ""
    return line if len(line) <= _LONGEST_LINE else f"{line[:_LONGEST_LINE]}…"

"""What a page shows of a workbook: its exercises, each with the texts that come before it.

A text is folded under its heading, cautions never are. What follows an exercise without a heading
of its own is needed by the next one, and stands under that one's title.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import escape
from typing import Final, TypedDict

from labkit.lab.definition import Exercise, Picture
from labkit.lab.draw import Scenario
from labkit.language.expression import Prose
from labkit.language.markdown import to_html
from labkit.page.prose import as_read
from labkit.page.trade_words import Meaning, meanings

_CAUTION: Final = re.compile(r"> \*\*Caution\b")
_FOLDED: Final = re.compile(r"\{# folded: (.+?) #\}")
_HEADING: Final = re.compile(r"#{1,6} +(.+?)\s*#*")


class Folded(TypedDict):
    """A text under its heading; "" where it has none."""

    heading: str
    html: str


class Step(TypedDict):
    """An exercise, its question, what is read before it, and the cautions that come there, as HTML.

    `part` is the heading under which exercises begin here; "" where they only go on.
    """

    exercise: str
    question: str
    part: str
    texts: list[Folded]
    cautions: list[str]


class Sheet(TypedDict):
    """The whole page in its order. `after` comes behind the last exercise.

    `picture` is the network, drawn narrow to stand beside the question; "" without one. `words`
    says what the trade words open that the page underlines.
    """

    title: str
    summary: str
    minutes: int
    picture: str
    steps: list[Step]
    after: list[Folded]
    words: dict[str, Meaning]


def sheet_of(scenario: Scenario) -> Sheet:
    """The sheet of one scenario. Raises `DefinitionError` where a text has no value."""
    steps: list[Step] = []
    texts: list[Folded] = []
    cautions: list[str] = []
    heading = ""
    for part in scenario.lab.body:
        if isinstance(part, Exercise):
            if steps:
                _name(texts, f"For “{part.title.render(scenario.names)}”")
            steps.append(
                {
                    "exercise": part.id,
                    "question": _question(part.question, scenario),
                    "part": heading,
                    "texts": texts,
                    "cautions": cautions,
                }
            )
            texts, cautions, heading = [], [], ""
        elif not isinstance(part, Picture):
            for named, blocks in _under_headings(part.render(scenario.names)):
                heading = named or heading
                cautions += [as_read(to_html(block)) for block in blocks if _CAUTION.match(block)]
                html = to_html("\n\n".join(b for b in blocks if not _CAUTION.match(b)))
                _add(texts, heading, as_read(html))
    lab = scenario.lab
    return {
        "title": lab.title,
        "summary": to_html(lab.summary.strip()),
        "minutes": lab.minutes,
        "picture": lab.network.draw(scenario.network, narrow=True) if lab.network else "",
        "steps": steps,
        "after": texts,
        "words": meanings(),
    }


def cautions_before(scenario: Scenario, exercise: str) -> list[str]:
    """The cautions that stand before an exercise, as HTML: always shown with it."""
    texts: list[str] = []
    for part in scenario.lab.body:
        if isinstance(part, Exercise):
            if part.id == exercise:
                break
            texts = []
        elif not isinstance(part, Picture):
            texts += _blocks(part.render(scenario.names))
    return [as_read(to_html(block), words=False) for block in texts if _CAUTION.match(block)]


def _question(question: Prose, scenario: Scenario) -> str:
    """A question; what stands behind a mark in it is folded, under the words that the mark says.

    Everywhere else a mark is nothing at all.
    """
    whole = question.render(scenario.names)
    mark = _FOLDED.search(question.text)
    if mark is None:
        return as_read(to_html(whole))
    before = question.text[: mark.start()]
    head = scenario.lab.language.prose(before, question.place, question.names)
    seen = head.render(scenario.names)
    rest = to_html(whole.removeprefix(seen).strip())
    folded = f"<details><summary>{escape(mark[1])}</summary>{rest}</details>"
    return as_read(f"{to_html(seen)}{folded}")


def _add(texts: list[Folded], heading: str, html: str) -> None:
    """The picture parts a text in two: both stand under one heading."""
    if not html:
        return
    if texts and texts[-1]["heading"] == heading:
        texts[-1]["html"] += html
        return
    texts.append({"heading": heading, "html": html})


def _name(texts: list[Folded], title: str) -> None:
    for each in texts:
        each["heading"] = each["heading"] or title


def _under_headings(text: str) -> Iterator[tuple[str, list[str]]]:
    """The blocks of a Markdown text under each of its headings."""
    heading = ""
    blocks: list[str] = []
    for block in _blocks(text):
        if found := _HEADING.fullmatch(block):
            if heading or blocks:
                yield heading, blocks
            heading, blocks = found[1], []
        else:
            blocks.append(block)
    if heading or blocks:
        yield heading, blocks


def _blocks(text: str) -> Iterator[str]:
    """What blank lines part, but for those within a fence; a heading is a block of its own."""
    lines: list[str] = []
    fenced = False
    for line in text.split("\n"):
        fence = line.lstrip().startswith("```")
        if not fenced and (not line.strip() or _HEADING.fullmatch(line)):
            if lines:
                yield "\n".join(lines)
            lines = []
            if line.strip():
                yield line
            continue
        fenced ^= fence
        lines.append(line)
    if lines:
        yield "\n".join(lines)

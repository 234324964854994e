"""What a kind puts on paper: HTML fragments for a handout that is answered with a pen.

A kind's check may have four more powers, each left out at will. What they return is made of the
pieces here and in the modules `paper_…` beside, which take care of every character that means
something in HTML. A kind without them gets a line to write on, and its right answer and slips as a
report shows them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from string import ascii_uppercase
from typing import Any, Final, Protocol, runtime_checkable

from labkit.doors.check import Ask, Check, Key
from labkit.language.markdown import message_html, to_html

BOX: Final = '<span class="tickbox"></span>'
"""An empty box to tick."""
MOST_LINES: Final = 4
"""Lines that are shown of a wrong answer that differs in many."""


@dataclass(frozen=True, slots=True)
class Mistake:
    """A known mistake on the instructor's copy: its id, the wrong answer and what is told.

    `answer` is words, `tell` the text of a verdict: emphasis and line breaks mean something in it.
    """

    id: str
    answer: str
    tell: str

    @property
    def answer_html(self) -> str:
        """The wrong answer, each line of it a paragraph."""
        return "".join(f"<p>{escape(words)}</p>" for words in self.answer.split("\n") if words)

    @property
    def tell_html(self) -> str:
        """What the trainee is told."""
        return message_html(self.tell)


@runtime_checkable
class HasPaper(Protocol):
    """A kind with a place of its own to answer on."""

    def paper(self, ask: Ask) -> str:
        """The place to answer, for the handout."""


@runtime_checkable
class HasPaperRight(Protocol):
    """A kind that fills its place in."""

    def paper_right(self, ask: Ask, key: Key) -> str:
        """A right answer, as it looks on that place."""


@runtime_checkable
class HasPaperSlips(Protocol):
    """A kind with shorter words for its known mistakes."""

    def paper_slips(self, ask: Ask, key: Key) -> list[Mistake]:
        """The known mistakes, cut to what differs."""


@runtime_checkable
class HasPaperForMarking(Protocol):
    """A kind that tells an instructor more than the right answer and the slips."""

    def paper_for_marking(self, ask: Ask, key: Key, marks: float) -> str:
        """What an instructor marks by."""


def answer_place(check: Check, ask: dict[str, Any]) -> str:
    """Where the trainee answers on paper: the kind's own, or a line to write on."""
    return check.paper(ask) if isinstance(check, HasPaper) else line("Your answer")


def right_answer(check: Check, ask: dict[str, Any], key: dict[str, Any]) -> str:
    """A right answer for the instructor: the kind's own form filled in, or in words."""
    if isinstance(check, HasPaperRight):
        return check.paper_right(ask, key)
    return filled(check.shown(ask, check.right_answer(ask, key)))


def known_mistakes(check: Check, ask: dict[str, Any], key: dict[str, Any]) -> list[Mistake]:
    """The slips of an exercise: as the kind puts them on paper, or as a report shows them."""
    if isinstance(check, HasPaperSlips):
        return check.paper_slips(ask, key)
    return [
        Mistake(name, check.shown(ask, answer), check.check(ask, key, answer).message)
        for name, answer in check.slip_answers(ask, key).items()
    ]


def marking_notes(check: Check, ask: dict[str, Any], key: dict[str, Any], marks: float) -> str:
    """What the kind tells an instructor beyond the right answer and the slips; "" if nothing."""
    return check.paper_for_marking(ask, key, marks) if isinstance(check, HasPaperForMarking) else ""


def text(words: str) -> str:
    """Words as HTML."""
    return escape(words)


def note(words: str) -> str:
    """A small line of words."""
    return f'<p class="note">{escape(words)}</p>'


def line(label: str, unit: str = "") -> str:
    """A line to write on, after its label and before its unit."""
    after = f'<span class="unit">{escape(unit)}</span>' if unit else ""
    return (
        f'<div class="line"><span class="label">{escape(label)}:</span>'
        f'<span class="rule"></span>{after}</div>'
    )


def lines(count: int) -> str:
    """Empty lines to write a text on."""
    return f'<div class="lines">{"<div></div>" * count}</div>'


def filled(words: str) -> str:
    """What stands in a place that is filled in."""
    return f'<strong class="filled">{escape(words)}</strong>'


def boxes(options: Iterable[str]) -> str:
    """Options, each with a box to tick."""
    items = "".join(f"<li>{BOX}<span>{escape(option)}</span></li>" for option in options)
    return f'<ul class="boxes">{items}</ul>'


def lettered(options: Sequence[str]) -> str:
    """Options with a letter and a box to tick, so that people can name them."""
    items = "".join(
        f"<li>{BOX}<b>{letter_of(at)}</b><span>{escape(option)}</span></li>"
        for at, option in enumerate(options)
    )
    return f'<ul class="boxes">{items}</ul>'


def letter_of(at: int) -> str:
    """The letter of an option, counted from 0; beyond Z its number."""
    return ascii_uppercase[at] if at < len(ascii_uppercase) else str(at + 1)


def some_of(lines: Sequence[str]) -> str:
    """The first lines of a wrong answer that differs in many."""
    more = len(lines) - MOST_LINES
    return "\n".join([*lines[:MOST_LINES], *([f"… and {more} more"] if more > 0 else [])])


def marks_in_words(marks: float) -> str:
    """A number of marks, to three digits."""
    shown = f"{marks:.3g}"
    return f"{shown} mark" if shown == "1" else f"{shown} marks"


def ticks(options: Iterable[str]) -> str:
    """Few short options in one row, each with a box to tick."""
    items = "".join(f"<span>{BOX} {escape(option)}</span>" for option in options)
    return f'<span class="ticks">{items}</span>'


def side_by_side(pieces: Iterable[str]) -> str:
    """Pieces beside each other."""
    cells = "".join(f"<div>{piece}</div>" for piece in pieces)
    return f'<div class="beside">{cells}</div>'


def table(headings: Sequence[str], rows: Iterable[Sequence[str]], *classes: str) -> str:
    """A table. Headings are words; cells are HTML, and an empty one is there to be filled in.

    `classes` name the columns: "tick" (narrow), "cell" (room to write), "" (as wide as needed).
    """
    names = [*classes, *[""] * len(headings)]
    head = "".join(
        f"<th{_class(name)}>{escape(words)}</th>"
        for words, name in zip(headings, names, strict=False)
    )
    body = "".join(
        "<tr>"
        + "".join(f"<td{_class(n)}>{c}</td>" for c, n in zip(row, names, strict=False))
        + "</tr>"
        for row in rows
    )
    return f'<table class="form"><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>'


def caution(words: str) -> str:
    """A caution in a frame that a black-and-white printer shows; "" without words."""
    if not words:
        return ""
    return f'<div class="caution"><strong>⚠ Caution</strong>{to_html(words, links=False)}</div>'


def rubric(criteria: Iterable[Mapping[str, Any]], marks: float) -> str:
    """Criteria with the marks that each earns, and a cell for each to write the mark into."""
    rows = [
        [escape(item["text"]), f"{round(marks * item['marks_share'], 2):g}", ""]
        for item in criteria
    ]
    return table(["What earns marks", "At most", "Given"], rows, "", "tick", "tick")


def working_space() -> str:
    """An empty frame to calculate in."""
    return '<div class="space"><span class="note">Working</span></div>'


def _class(name: str) -> str:
    return f' class="{name}"' if name else ""

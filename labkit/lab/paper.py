"""What a kind puts on paper: HTML fragments for a handout that is answered with a pen.

A kind's check may have two more methods, both left out at will:

    def paper(self, ask) -> str                           the place to answer, for the handout
    def paper_for_marking(self, ask, key, marks) -> str   what an instructor marks by

Both return HTML made of the pieces here, which take care of every character that means something
in HTML. A kind without them gets a line to write on, and its right answer and slips.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from typing import Any, Final

from labkit.lab.kinds import Check
from labkit.lab.markdown import to_html

BOX: Final = '<span class="tickbox"></span>'
"""An empty box to tick."""


def answer_place(check: Check, ask: dict[str, Any]) -> str:
    """Where the trainee answers on paper: the kind's own, or a line to write on."""
    own = getattr(check, "paper", None)
    return str(own(ask)) if callable(own) else line("Your answer")


def marking_notes(check: Check, ask: dict[str, Any], key: dict[str, Any], marks: float) -> str:
    """What the kind tells an instructor beyond the right answer and the slips; "" if nothing."""
    own = getattr(check, "paper_for_marking", None)
    return str(own(ask, key, marks)) if callable(own) else ""


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


def boxes(options: Iterable[str]) -> str:
    """Options, each with a box to tick."""
    items = "".join(f"<li>{BOX}<span>{escape(option)}</span></li>" for option in options)
    return f'<ul class="boxes">{items}</ul>'


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


def rubric(criteria: Iterable[dict[str, Any]], marks: float) -> str:
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

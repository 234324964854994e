"""Workbooks on paper: handouts to answer with a pen, and the instructor's copy with solutions.

Both are HTML pages that fetch nothing and need no colour. A sheet is one lab of one trainee: it
begins on a page of its own, counts its own pages and carries its trainee's name on each.
"""

from __future__ import annotations

import re
import string
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property, lru_cache
from itertools import pairwise
from typing import Any, Final

from markupsafe import Markup

from labkit.doors.installed import check_for
from labkit.front_end.written_pages import Pages
from labkit.kinds.common import paper
from labkit.lab.definition import Exercise, Picture
from labkit.lab.draw import Scenario
from labkit.language.markdown import to_html

_AT_A_HEADING: Final = re.compile(r"(?=<h[2-4]>)")
_SHORT_LEAD: Final = 700
"""Characters of HTML that are short enough to be kept together with what follows."""
_CARRIED: Final = '<img src="data:image/'
_PICTURES: Final = (
    ".text img, .exercise img { display: block; max-width: 100%; max-height: 110mm; "
    "margin: 2mm 0; break-inside: avoid; }\n"
)
"""How pictures of a lab are set; a page without any says nothing of them."""
_PLAIN: Final = frozenset(string.ascii_letters + string.digits)


class PageSize(StrEnum):
    """A paper size, by its name in CSS (ISO 216; ANSI/ASME Y14.1)."""

    a4 = "A4"
    letter = "Letter"


@dataclass(frozen=True)
class Sheet:
    """One lab of one trainee; `trainee` and `class_title` are empty for a sample.

    What stands on it is worked out once, for all the pages that it stands on.
    """

    scenario: Scenario
    trainee: str = ""
    trainee_id: str = ""
    class_title: str = ""

    @property
    def whose(self) -> str:
        """Name and id of the trainee, or which sample this is."""
        if not self.trainee:
            return f"sample “{self.scenario.seed}”"
        return f"{self.trainee} ({self.trainee_id})"

    @cached_property
    def questions(self) -> list[dict[str, Any]]:
        """What the trainee answers on, part by part: nothing of any key is in it."""
        return _parts(self.scenario, _question)

    @cached_property
    def solutions(self) -> list[dict[str, Any]]:
        """What the instructor marks by, part by part."""
        return _parts(self.scenario, _solution)

    def work_out(self) -> None:
        """Work both sides out now: the pages are quickly filled then."""
        _ = self.questions, self.solutions


def handouts(sheets: Sequence[Sheet], size: PageSize = PageSize.a4) -> bytes:
    """The pages that trainees answer on: nothing of any key is in them."""
    return _filled("handout.html", [(sheet, sheet.questions) for sheet in sheets], size)


def instructors_copy(sheets: Sequence[Sheet], size: PageSize = PageSize.a4) -> bytes:
    """Right answers, slips with their numbers, what to mark by, hints and working."""
    solved = [(sheet, sheet.solutions) for sheet in sheets]
    return _filled("instructors_copy.html", solved, size, "Instructor's copy")


def _filled(
    template: str, sheets: Sequence[tuple[Sheet, Any]], size: PageSize, mark: str = ""
) -> bytes:
    """`mark` stands on the foot of every page."""
    shown = [
        {
            "sheet": sheet,
            "lab": sheet.scenario.lab,
            "summary": Markup(to_html(sheet.scenario.lab.summary.strip())),
            "running": Markup(_css_string(_running(sheet, mark))),
            "parts": parts,
        }
        for sheet, parts in sheets
    ]
    page = _pages().filled(template, sheets=shown, size=size.value)
    if _CARRIED in page:
        page = page.replace("</style>", f"{_PICTURES}</style>", 1)
    return page.encode("utf-8", "replace")


def _running(sheet: Sheet, mark: str) -> str:
    lab = sheet.scenario.lab
    parts = (mark, f"{lab.title} {lab.version}", sheet.whose, sheet.class_title)
    return " · ".join(part for part in parts if part)


def _parts(scenario: Scenario, explain: Any) -> list[dict[str, Any]]:
    lab, number = scenario.lab, 0
    parts: list[dict[str, Any]] = []
    for part in lab.body:
        if isinstance(part, Picture):
            parts.append({"what": "picture", "html": Markup(_picture(scenario))})
        elif isinstance(part, Exercise):
            number += 1
            shown: dict[str, Any] = {"what": "exercise", "number": number, "marks": part.marks}
            shown["title"] = part.title.render(scenario.names)
            shown["question"] = Markup(to_html(part.question.render(scenario.names)))
            parts.append({**shown, **explain(scenario, part)})
        else:
            parts += _blocks(to_html(part.render(scenario.names)))
    return _with_leads(parts)


def _picture(scenario: Scenario) -> str:
    recipe = scenario.lab.network
    assert recipe is not None
    bands = recipe.draw_for_paper(scenario.network)
    return "".join(f'<div class="band">{svg}</div>' for svg in bands)


def _blocks(html: str) -> list[dict[str, Any]]:
    """Prose cut before each heading, so that a page can end there and not behind it."""
    return [{"what": "text", "html": Markup(block)} for block in _AT_A_HEADING.split(html) if block]


def _with_leads(parts: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Short prose before an exercise is marked: it stays on one page with it.

    Not the first of all: it stays with the head of the sheet.
    """
    for part, following in pairwise(parts[1:]):
        leads = part["what"] == "text" and following["what"] == "exercise"
        if leads and len(part["html"]) <= _SHORT_LEAD:
            part["what"] = "text lead"
    return _with_tail(parts)


def _with_tail(parts: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Summary and sources behind the last exercise are set smaller: nobody works on them."""
    for part in reversed(parts):
        if part["what"] != "text":
            break
        part["what"] = "text tail"
    return parts


def _question(scenario: Scenario, exercise: Exercise) -> dict[str, Any]:
    ask = scenario.prepare(exercise).ask
    return {"place": Markup(paper.answer_place(check_for(exercise.kind), ask))}


def _solution(scenario: Scenario, exercise: Exercise) -> dict[str, Any]:
    prepared = scenario.prepare(exercise)
    check, ask, key = check_for(exercise.kind), prepared.ask, prepared.key
    awaits = check.check(ask, key, check.right_answer(ask, key)).awaits
    return {
        "awaits": awaits,
        "right": key.get("model", "") if awaits else Markup(paper.right_answer(check, ask, key)),
        "notes": Markup(paper.marking_notes(check, ask, key, exercise.marks)),
        "slips": [
            {"id": each.id, "answer": Markup(each.answer_html), "tell": Markup(each.tell_html)}
            for each in paper.known_mistakes(check, ask, key)
        ],
        "hints": [
            {"html": Markup(to_html(hint.text.render(scenario.names))), "costs": hint.costs}
            for hint in exercise.hints
        ],
        "working": Markup(to_html(exercise.working.render(scenario.names))),
    }


def _css_string(words: str) -> str:
    """Words as a CSS string (CSS Syntax Level 3, escapes): nothing in a name can end it."""
    return '"' + "".join(c if c in _PLAIN else f"\\{ord(c):x} " for c in words) + '"'


@lru_cache(maxsize=1)
def _pages() -> Pages:
    return Pages("labkit.workbook")

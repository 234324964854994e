"""A scripted trainee: gives answers in the browser, and reads what the page says of them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from html.parser import HTMLParser
from typing import Any
from unicodedata import normalize

from dealt import Desk, Solution
from driving import Station
from hands import HANDS

from labkit.doors.installed import check_for
from labkit.doors.verdict import Verdict
from labkit.language.markdown import message_html

HEADS = {
    "right": ("✓",),
    "wrong": ("✗ Not right", "◐ Partly right"),
    "unreadable": ("? Saved, but it cannot be read",),
    "awaits": ("◷ Saved for your instructor",),
}


@dataclass(frozen=True)
class Told:
    """What the page says of an answer: the frame's word for it, and all that can be read."""

    verdict: str
    words: str


@dataclass(frozen=True)
class Trainee:
    """Somebody at a workbook that is open, with the solutions beside them."""

    station: Station
    desk: Desk

    def give(self, solution: Solution, answer: Any) -> Told:
        """Put an answer in, press the button, and read the verdict once it is saved."""
        frame = self.station.exercise(solution.name)
        HANDS[solution.kind](frame, solution, answer)
        self.station.press(solution)
        self.station.wait_state(solution.name, "saved")
        feedback = frame.locator(".lk-feedback")
        words = feedback.inner_text()
        return Told(str(frame.get_attribute("data-verdict")), words)

    def gives(self, solution: Solution, answer: Any) -> None:
        """Give an answer; the page must say of it what the lab's own calculation says."""
        expected = verdict_on(solution, answer)
        told = self.give(solution, answer)
        kept = self.desk.on_disk(solution.name)[-1]
        where = f"{solution.name}: {kept}"
        assert _said(kept) == _said(answer), where
        assert told.verdict == kind_of(expected), f"{where}\n{told.words}"
        assert told.words.startswith(HEADS[told.verdict]), f"{where}\n{told.words}"
        assert letters(shown_words(expected.message)) in letters(told.words), (
            f"{where}\n{told.words}\nshould say: {expected.message}"
        )

    def slips_once(self, solution: Solution, slipped: set[str]) -> None:
        """Make a known mistake of each kind, and be told so; at a bench one that repairs too.

        That each mistake is told is held in tests/answering/test_second_host.py, without a browser.
        """
        slips = slips_to_make(solution)
        repair = [answer for answer in slips[1:][-1:] if _steps(answer)]
        if slips and solution.kind not in slipped:
            slipped.add(solution.kind)
            for answer in [*slips[:1], *repair]:
                self.gives(solution, answer)

    def slips_everywhere(self, solutions: dict[str, Solution]) -> None:
        """A known mistake of each kind of exercise in a workbook."""
        slipped: set[str] = set()
        for solution in solutions.values():
            self.slips_once(solution, slipped)

    def answers_right(self, solutions: dict[str, Solution]) -> None:
        """Answer everything right; what a person marks waits for the instructor."""
        for solution in solutions.values():
            self.gives(solution, solution.right)


def verdict_on(solution: Solution, answer: Any) -> Verdict:
    """What the lab's own calculation says of an answer."""
    return check_for(solution.kind).check(solution.ask, solution.key, answer)


def slips_to_make(solution: Solution) -> list[Any]:
    """The slips that are not right in this draw, those without steps at the bench first.

    What is repaired stays repaired: a slip without a repair cannot be made later.
    """
    wrong = [a for a in solution.slips.values() if not verdict_on(solution, a).right]
    return sorted(wrong, key=lambda answer: len(_steps(answer)))


def kind_of(verdict: Verdict) -> str:
    """The frame's word for a verdict."""
    if verdict.right:
        return "right"
    if verdict.awaits:
        return "awaits"
    return "wrong" if verdict.readable else "unreadable"


def letters(text: str) -> str:
    """A text's plain letters: how lines break and formulas are set is the page's own business."""
    return re.sub(r"[\s_]+", "", normalize("NFKC", text))


def shown_words(message: str) -> str:
    """A verdict's message as a reader sees it, without its Markdown."""
    reader = _Words()
    reader.feed(message_html(message))
    return "".join(reader.found)


class _Words(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_data(self, data: str) -> None:
        self.found.append(data)


def _steps(answer: Any) -> list[Any]:
    return answer.get("steps", []) if isinstance(answer, dict) else []


def _said(answer: Any) -> Any:
    """An answer as it is compared: conductors and places in any order, at the bench no steps.

    Readings are taken besides the steps of the repair, so the steps differ.
    """
    if not isinstance(answer, dict):
        return answer
    said = {name: _said(value) for name, value in answer.items() if name != "steps"}
    return {k: sorted(v) if _are_names(v) else v for k, v in said.items()}


def _are_names(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(each, str) for each in value)

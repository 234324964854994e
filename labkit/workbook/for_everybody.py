"""An exercise as a whole class may look at it: known mistakes, right answer and working."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

from labkit.doors.check import Check
from labkit.doors.installed import check_for
from labkit.kinds.common import paper
from labkit.kinds.common.paper import Mistake
from labkit.lab.definition import Exercise
from labkit.lab.draw import Scenario
from labkit.language.markdown import to_html

_SENTENCE_ENDS: Final = re.compile(r"(?<=[.!?])\s+(?=[\dA-Z(*`⌊])")
_OF_BLOCKS: Final = re.compile(r"^(?:\||[-*+] |\d+[.)] |```|> )", re.MULTILINE)
_BETWEEN_BLOCKS: Final = re.compile(r"\n\s*\n(?!\s)")


@dataclass(frozen=True)
class ForEverybody:
    """An exercise in a draw that is nobody's. Texts are HTML, but for the title.

    Raises `DefinitionError` where something of it has no value in this draw.
    """

    scenario: Scenario
    exercise: Exercise

    @property
    def title(self) -> str:
        """Its title, in words."""
        return self.exercise.title.render(self.scenario.names)

    @property
    def place(self) -> str:
        """Where it is answered, as on a handout."""
        return paper.answer_place(self._check, self._ask)

    @cached_property
    def right(self) -> str:
        """A right answer; where a person marks, the author's model answer, "" without one."""
        check, ask, key = self._check, self._ask, self._key
        if check.check(ask, key, check.right_answer(ask, key)).awaits:
            return to_html(str(key.get("model", "")))
        return paper.right_answer(check, ask, key)

    @cached_property
    def mistakes(self) -> dict[str, Mistake]:
        """The known mistakes that can be made with these numbers, by their ids."""
        check, ask, key = self._check, self._ask, self._key
        # On paper some kinds say it in fewer words, and leave out what can only be made at a bench.
        on_paper = {mistake.id: mistake for mistake in paper.known_mistakes(check, ask, key)}
        return {
            name: on_paper.get(name)
            or Mistake(name, check.shown(ask, wrong), check.check(ask, key, wrong).message)
            for name, wrong in check.slip_answers(ask, key).items()
        }

    @property
    def working(self) -> list[str]:
        """The working, step by step."""
        text = self.exercise.working.render(self.scenario.names)
        return [to_html(step) for step in steps_of(text)]

    @property
    def _check(self) -> Check:
        return check_for(self.exercise.kind)

    @property
    def _ask(self) -> dict[str, Any]:
        return self.scenario.prepare(self.exercise).ask

    @property
    def _key(self) -> dict[str, Any]:
        key: dict[str, Any] = self.scenario.prepare(self.exercise).key
        return key


def steps_of(text: str) -> list[str]:
    """A working in Markdown, cut where one can stop: sentences, but lists and tables whole."""
    steps: list[str] = []
    for block in _BETWEEN_BLOCKS.split(text.strip()):
        steps += [block] if _OF_BLOCKS.search(block) else _sentences(block)
    return [step for step in steps if step]


def _sentences(block: str) -> list[str]:
    """The sentences of a paragraph; what stands in brackets, bold or as code is not cut."""
    found, start = [], 0
    for end in _SENTENCE_ENDS.finditer(block):
        before = block[start : end.start()]
        if _is_closed(before):
            found.append(before)
            start = end.end()
    return [*found, block[start:]]


def _is_closed(text: str) -> bool:
    if text.count("(") != text.count(")") or text.count("`") % 2:
        return False
    return text.count("*") % 2 == 0 and text.count("**") % 2 == 0

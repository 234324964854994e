"""A test plan, judged by what it would find."""

from __future__ import annotations

from typing import Any

from labkit.doors.check import BlindGuess
from labkit.doors.verdict import Verdict, unreadable
from labkit.kinds.common import paper
from labkit.kinds.test_plan.data import Answer, TestPlanAsk, TestPlanKey
from labkit.kinds.test_plan.judging import (
    in_order,
    names_of,
    never_on,
    not_allowed,
    rules_in_words,
    unseen_pairs,
)
from labkit.kinds.test_plan.words import words_of

_UNREAD = "This plan cannot be read: open the page anew."
NOT_ALLOWED = "not-allowed"
NEVER_ON = "never-on"
UNSEEN = "crossed-unseen"


class TestPlanCheck:
    """All the marks, or none: who leaves one pair unseen signs for what nobody saw."""

    def unreadable(self, ask: TestPlanAsk, answer: Any) -> str:
        """No step, or what is no output here."""
        if not isinstance(answer, list) or len(answer) > ask["steps"]:
            return _UNREAD
        known = names_of(ask)
        for step in answer:
            if not isinstance(step, list) or not all(
                isinstance(e, str) and e in known for e in step
            ):
                return _UNREAD
        return "" if any(answer) else words_of(ask).nothing

    def check(self, ask: TestPlanAsk, key: TestPlanKey, answer: Any) -> Verdict:  # noqa: ARG002
        """What the machine forbids, what is not tried, and the first pair that stays unseen."""
        if sentence := self.unreadable(ask, answer):
            return unreadable(sentence)
        if told := not_allowed(ask, answer):
            return Verdict(0.0, f"{told} The machine forbids it.", NOT_ALLOWED)
        names, words = names_of(ask), words_of(ask)
        if missed := never_on(ask, answer):
            return Verdict(0.0, words.never_on.format(names[missed[0]]), NEVER_ON)
        if unseen := unseen_pairs(ask, answer):
            told = words.unseen.format(*(names[each] for each in unseen[0]))
            return Verdict(0.0, told, UNSEEN)
        return Verdict(1.0, f"Right: any two {words.point}s that are crossed show in some step.")

    def shown(self, ask: TestPlanAsk, answer: Any) -> str:
        """The steps with something on, numbered as they stand."""
        if self.unreadable(ask, answer):
            return ""
        return " ".join(f"{n}) {_step(ask, step)}" for n, step in enumerate(answer, 1) if step)

    def right_answer(self, ask: TestPlanAsk, key: TestPlanKey) -> Answer:  # noqa: ARG002
        """Each output with no more than it needs."""
        return key["example"]

    def slip_answers(self, ask: TestPlanAsk, key: TestPlanKey) -> dict[str, Answer]:
        """The right plan turned round, without its last step, with two steps made one."""
        answers: dict[str, Answer] = {}
        for plan in _spoilt(ask, key["example"]):
            verdict = self.check(ask, key, plan)
            if not verdict.right:
                answers.setdefault(verdict.slip, plan)
        return answers

    def guesses(self, ask: TestPlanAsk) -> list[BlindGuess]:
        """All together, and each alone as they are listed."""
        points = [point["id"] for point in ask["points"]]
        return [
            BlindGuess("commanding all on in one step", [points]),
            BlindGuess("commanding each alone, as they are listed", [[each] for each in points]),
        ]

    def caution(self, ask: TestPlanAsk) -> str:
        """The usual one for outputs that are commanded on, or inputs that are made by hand."""
        return words_of(ask).caution

    def solved(self, ask: TestPlanAsk, key: TestPlanKey) -> str:
        """The plan as Markdown."""
        return "\n".join(f"{n}. {_step(ask, step)}" for n, step in enumerate(key["example"], 1))

    def paper(self, ask: TestPlanAsk) -> str:
        """What the machine asks, and a table of boxes to tick."""
        return paper.caution(words_of(ask).caution) + _rules(ask) + _form(ask, [])

    def paper_right(self, ask: TestPlanAsk, key: TestPlanKey) -> str:
        """The table filled in."""
        return _form(ask, key["example"])

    def paper_for_marking(self, ask: TestPlanAsk, key: TestPlanKey, marks: float) -> str:  # noqa: ARG002
        """How any plan is judged."""
        words = words_of(ask)
        return paper.note(
            f"Any plan is right that keeps what the machine asks, {words.each_on}, and in which "
            f"no two columns are ticked alike: two such {words.point}s, crossed, would show "
            "nowhere. "
            f"{paper.marks_in_words(marks)}, or none."
        )


def _spoilt(ask: TestPlanAsk, plan: Answer) -> list[Answer]:
    merged = [
        [*plan[:at], in_order(ask, [*plan[at], *plan[at + 1]]), *plan[at + 2 :]]
        for at in range(len(plan) - 1)
    ]
    return [plan[::-1], plan[:-1], *merged, *([each] for each in plan)]


def _step(ask: TestPlanAsk, step: list[str]) -> str:
    names = names_of(ask)
    return ", ".join(names[each] for each in in_order(ask, step))


def _rules(ask: TestPlanAsk) -> str:
    return "".join(paper.note(rule) for rule in rules_in_words(ask))


def _form(ask: TestPlanAsk, plan: Answer) -> str:
    """A row a step, a column an output; a blank plan has boxes to tick."""
    rows = [
        [str(n + 1), *(_box(plan, n, point["id"]) for point in ask["points"])]
        for n in range(ask["steps"])
        if not plan or n < len(plan)
    ]
    return paper.table(["Step", *(point["text"] for point in ask["points"])], rows, "tick")


def _box(plan: Answer, step: int, point: str) -> str:
    if not plan:
        return paper.BOX
    return paper.filled("on") if point in plan[step] else ""

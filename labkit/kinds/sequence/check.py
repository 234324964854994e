"""Steps put in order: right where every step stands after all that must come before it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from labkit.doors.check import BlindGuess, Option
from labkit.doors.verdict import Verdict, unreadable
from labkit.kinds.common import paper
from labkit.kinds.common.paper import Mistake
from labkit.kinds.sequence.data import Answer, KnownMistake, Pair, SequenceAsk, SequenceKey
from labkit.kinds.sequence.must_come_before import needed_to_say, wrong_pairs
from labkit.language.markdown import plain

_DEALT = "The steps stand as they were dealt: put them into their order first."
_ONCE = "Put every step into the order, each of them once."


class SequenceCheck:
    """Credit is the pairs in right order less those in wrong order, of all pairs; never below 0.

    So an order put down blindly earns nothing on average, half of its pairs being right by chance.
    """

    def unreadable(self, ask: SequenceAsk, answer: Any) -> str:
        """Not every step once, or nothing moved."""
        dealt = [step["id"] for step in ask["steps"]]
        if answer == dealt:
            return _DEALT
        if not isinstance(answer, list) or not all(isinstance(item, str) for item in answer):
            return _ONCE
        return "" if sorted(answer) == sorted(dealt) else _ONCE

    def check(self, ask: SequenceAsk, key: SequenceKey, answer: Any) -> Verdict:
        """What must come before what, where it does not."""
        if sentence := self.unreadable(ask, answer):
            return unreadable(sentence)
        wrong = wrong_pairs(answer, key["pairs"])
        if not wrong:
            return Verdict(1.0, "Right: every step comes after all that it needs.")
        told = _told(key, answer)
        count = _counted(len(key["pairs"]) - len(wrong), len(key["pairs"]))
        if told and told["danger"]:
            message = f"{told['tell']}\nThis order is dangerous, so it earns nothing. {count}"
            return Verdict(0.0, message, told["id"], meaning=told["tell"])
        credit = max(0.0, 1 - 2 * len(wrong) / len(key["pairs"]))
        if told:
            return Verdict(credit, f"{told['tell']}\n{count}", told["id"], meaning=told["tell"])
        return Verdict(credit, f"{_nearest_said(ask, answer, wrong)}\n{count}")

    def shown(self, ask: SequenceAsk, answer: Any) -> str:
        """The steps, numbered."""
        if self.unreadable(ask, answer) == _ONCE:
            return ""
        texts = _texts(ask)
        return " ".join(f"{place}) {texts[step]}" for place, step in enumerate(answer, 1))

    def right_answer(self, ask: SequenceAsk, key: SequenceKey) -> Answer:  # noqa: ARG002
        """One right order."""
        return key["order"]

    def slip_answers(self, ask: SequenceAsk, key: SequenceKey) -> dict[str, Answer]:
        """For each known mistake, the right order with one of its two steps moved."""
        return {slip["id"]: self._spoilt(ask, key, slip) for slip in key["slips"]}

    def _spoilt(self, ask: SequenceAsk, key: SequenceKey, slip: KnownMistake) -> Answer:
        ways = _ways_to_spoil(key["order"], slip)
        fitting = (way for way in ways if self.check(ask, key, way).slip == slip["id"])
        return next(fitting, ways[0])

    def options(self, ask: SequenceAsk, key: SequenceKey, answer: Answer) -> list[Option]:
        """Each wrong order of two steps; what nobody put so is told of where it is known."""
        texts, names = _texts(ask), key["names"]
        known = {(slip["early"], slip["late"]): slip["tell"] for slip in key["slips"]}
        wrong = set(wrong_pairs(answer, _pairs(key)))
        return [
            Option(
                f"{names[late]} before {names[early]}",
                _in_quotes(texts[late].rstrip("."), "before", texts[early].rstrip(".")),
                right=False,
                taken=(early, late) in wrong,
                told=known.get((late, early), "") if (early, late) in wrong else "",
                listed=(late, early) in known,
            )
            for early, late in _pairs(key)
        ]

    def found_in(self, ask: SequenceAsk, key: SequenceKey, text: str) -> str:
        """The right order in a text that has every step as it is written here; "" otherwise."""
        said = " ".join(text.lower().split())
        at = {
            step["id"]: said.find(" ".join(step["text"].lower().split()).rstrip("."))
            for step in ask["steps"]
        }
        order = sorted(at, key=lambda step: at[step])
        there = min(at.values()) >= 0 and not wrong_pairs(order, key["pairs"])
        return self.shown(ask, order) if there else ""

    def guesses(self, ask: SequenceAsk) -> list[BlindGuess]:
        """The order that is shown, and its reverse."""
        dealt = [step["id"] for step in ask["steps"]]
        return [
            BlindGuess("leaving the steps as they are shown", dealt, as_shown=True),
            BlindGuess("turning the order round in which the steps are shown", dealt[::-1]),
        ]

    def caution(self, ask: SequenceAsk) -> str:
        """The author's own."""
        return ask["caution"]

    def solved(self, ask: SequenceAsk, key: SequenceKey) -> str:
        """The steps in a right order, as Markdown."""
        texts = _texts(ask)
        return "\n".join(f"{n}. {plain(texts[step])}" for n, step in enumerate(key["order"], 1))

    def paper(self, ask: SequenceAsk) -> str:
        """The steps as dealt, each with a box for its number."""
        return paper.caution(ask["caution"]) + _form(ask, {})

    def paper_right(self, ask: SequenceAsk, key: SequenceKey) -> str:
        """The numbers of one right order."""
        numbers = {step: str(place) for place, step in enumerate(key["order"], 1)}
        return paper.caution(ask["caution"]) + _form(ask, numbers)

    def paper_slips(self, ask: SequenceAsk, key: SequenceKey) -> list[Mistake]:  # noqa: ARG002
        """Which two steps are turned round."""
        return [
            Mistake(slip["id"], f"{_name(slip['early'])} before {_name(slip['late'])}", _on(slip))
            for slip in key["slips"]
        ]

    def paper_for_marking(self, ask: SequenceAsk, key: SequenceKey, marks: float) -> str:  # noqa: ARG002
        """What must come before what, and what each pair in wrong order costs."""
        said = needed_to_say(_pairs(key))
        must = ", ".join(f"{_name(first)} before {_name(then)}" for first, then in said)
        count = len(key["pairs"])
        each = paper.marks_in_words(2 * marks / count)
        return paper.note(
            f"Every order is right that keeps: {must}. With what follows from it "
            f"{count} pairs of steps have an order. Each pair in wrong order costs {each}, "
            "down to nothing. The order in which the steps are printed earns nothing."
        )


def _pairs(key: SequenceKey) -> list[Pair]:
    """As JSON has them they are lists."""
    return [_pair(*pair) for pair in key["pairs"]]


def _pair(first: str, then: str) -> Pair:
    return first, then


def _texts(ask: SequenceAsk) -> dict[str, str]:
    return {step["id"]: step["text"] for step in ask["steps"]}


def _told(key: SequenceKey, answer: Sequence[str]) -> KnownMistake | None:
    """The known mistake that is told: a dangerous one first, otherwise as they are listed."""
    made = [s for s in key["slips"] if answer.index(s["early"]) < answer.index(s["late"])]
    return next((slip for slip in made if slip["danger"]), made[0] if made else None)


def _nearest_said(ask: SequenceAsk, answer: Sequence[str], wrong: Sequence[Pair]) -> str:
    """The pair in wrong order whose steps stand nearest to each other, in words."""
    texts = _texts(ask)
    first, then = min(wrong, key=lambda p: (answer.index(p[0]) - answer.index(p[1]), p))
    words = [plain(texts[step].rstrip(".")) for step in (first, then)]
    return f"{_in_quotes(words[0], 'has to come before', words[1])}."


def _in_quotes(first: str, how: str, then: str) -> str:
    return f"“{first}” {how} “{then}”"


def _counted(right: int, count: int) -> str:
    return f"{right} of {count} pairs of steps stand in the right order."


def _ways_to_spoil(order: Sequence[str], slip: KnownMistake) -> list[Answer]:
    """The early step moved to before the late one, or the late one to after it; nearest first.

    There are several, since one may be the order in which the steps were dealt.
    """
    early, late = slip["early"], slip["late"]
    first, then = order.index(late), order.index(early)
    forward = [_moved(order, then, to) for to in range(first, -1, -1)]
    back = [_moved(order, first, to) for to in range(then, len(order))]
    return [*forward[:1], *back[:1], *forward[1:], *back[1:]]


def _moved(order: Sequence[str], at: int, to: int) -> Answer:
    steps = [*order]
    steps.insert(to, steps.pop(at))
    return steps


def _name(step: str) -> str:
    return step.upper()


def _on(slip: KnownMistake) -> str:
    return f"{slip['tell']}\nDangerous: earns nothing." if slip["danger"] else slip["tell"]


def _form(ask: SequenceAsk, numbers: dict[str, str]) -> str:
    rows = [
        [
            paper.filled(numbers[step["id"]]) if numbers else "",
            _name(step["id"]),
            paper.text(step["text"]),
        ]
        for step in ask["steps"]
    ]
    return paper.table(["Place (1 is first)", "", "Step"], rows, "fill tick", "tick", "")

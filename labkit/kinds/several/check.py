"""Boxes to tick: right where all that are right are ticked, and no other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from labkit.doors.check import BlindGuess, Option
from labkit.doors.verdict import Verdict, unreadable
from labkit.kinds.common import paper
from labkit.kinds.common.paper import Mistake
from labkit.kinds.several.data import NONE, Answer, Box, SeveralAsk, SeveralKey
from labkit.language.markdown import plain

_NOTHING = "No box is ticked: tick every one that answers the question."
_ONCE = "Tick boxes of this exercise, each of them once."
_NONE_ALONE = "“None of them” is ticked, and others too: decide for one of the two."
_NONE_TEXT = "None of them"


class SeveralCheck:
    """Credit is the share found of those that are right, less the share ticked of the others.

    So who ticks all, none, or blindly, earns nothing on average. Where none is right, any tick
    earns nothing.
    """

    def unreadable(self, ask: SeveralAsk, answer: Any) -> str:
        """Nothing ticked, or what is no box here."""
        if not isinstance(answer, list) or answer == []:
            return _NOTHING
        known = [box["id"] for box in ask["boxes"]] + [NONE] * ask["none"]
        if not all(isinstance(box, str) and box in known for box in answer):
            return _ONCE
        if len(set(answer)) < len(answer):
            return _ONCE
        return _NONE_ALONE if NONE in answer and len(answer) > 1 else ""

    def check(self, ask: SeveralAsk, key: SeveralKey, answer: Any) -> Verdict:
        """What is missed, and what is ticked wrongly."""
        if sentence := self.unreadable(ask, answer):
            return unreadable(sentence)
        ticked = set(answer) - {NONE}
        right = set(key["right"])
        if ticked == right:
            return Verdict(1.0, _all_right(len(right)))
        wrong = [box["id"] for box in ask["boxes"] if box["id"] in ticked - right]
        missed = [box["id"] for box in ask["boxes"] if box["id"] in right - ticked]
        told = [box for box in (*wrong, *missed) if box in key["tell"]]
        lines = [_counted(ask, right, wrong, missed), *(_line(ask, key, box) for box in told)]
        return Verdict(
            _credit(len(ask["boxes"]), len(right), len(wrong), len(missed)),
            "\n".join(lines),
            _slip(key, told[0]) if told else "",
            meaning=key["tell"][told[0]] if told else "",
        )

    def shown(self, ask: SeveralAsk, answer: Any) -> str:
        """The texts that are ticked, sorted: the same answer reads alike in every draw."""
        if self.unreadable(ask, answer):
            return ""
        if answer == [NONE]:
            return _NONE_TEXT
        return "; ".join(sorted(box["text"] for box in ask["boxes"] if box["id"] in answer))

    def right_answer(self, ask: SeveralAsk, key: SeveralKey) -> Answer:  # noqa: ARG002
        """All that are right."""
        return key["right"] or [NONE]

    def slip_answers(self, ask: SeveralAsk, key: SeveralKey) -> dict[str, Answer]:
        """The right boxes with one that is told of ticked wrongly, or left out."""
        return {
            _slip(key, box["id"]): answer
            for box in ask["boxes"]
            if box["id"] in key["tell"]
            for answer in [_turned(ask, key, box["id"])]
            if not self.unreadable(ask, answer)
        }

    def options(self, ask: SeveralAsk, key: SeveralKey, answer: Answer) -> list[Option]:
        """Each box, and "none of them" where it may be said."""
        found = [_option(key, box, answer) for box in ask["boxes"]]
        if ask["none"]:
            found.append(Option("", _NONE_TEXT, not key["right"], NONE in answer))
        return found

    def solved(self, ask: SeveralAsk, key: SeveralKey) -> str:
        """The right ones as Markdown."""
        texts = [box["text"] for box in ask["boxes"] if box["id"] in key["right"]]
        return "\n".join(f"- {plain(text)}" for text in texts or [_NONE_TEXT])

    def blind(self, ask: SeveralAsk) -> float:
        """One of all sets of boxes."""
        return 1 / ((1 << len(ask["boxes"])) - (not ask["none"]))

    def guesses(self, ask: SeveralAsk) -> list[BlindGuess]:
        """All boxes, the first half of them, and none."""
        boxes = [box["id"] for box in ask["boxes"]]
        found = [
            BlindGuess("ticking every box", boxes),
            BlindGuess("ticking the upper half of the boxes", boxes[: len(boxes) // 2]),
        ]
        return [*found, BlindGuess("ticking 'None of them'", [NONE])] if ask["none"] else found

    def by_names(self, ask: SeveralAsk, key: SeveralKey, answer: Answer) -> list[str]:  # noqa: ARG002
        """The author's names of the boxes that are ticked."""
        return sorted(key["names"][box] for box in answer if box != NONE)

    def from_names(self, ask: SeveralAsk, key: SeveralKey, names: Sequence[str]) -> Answer:
        """The letters of the boxes of these names."""
        boxes = [box["id"] for box in ask["boxes"] if key["names"][box["id"]] in names]
        return boxes or [NONE]

    def found_in(self, ask: SeveralAsk, key: SeveralKey, text: str) -> str:
        """The right ones, where a text says every one of them and none of the others."""
        said = _lowered(text)
        there = {box["id"] for box in ask["boxes"] if _lowered(box["text"]).rstrip(".") in said}
        found = bool(there) and there == set(key["right"])
        return self.shown(ask, key["right"]) if found else ""

    def paper(self, ask: SeveralAsk) -> str:
        """A letter and a box for each, and how many to tick."""
        options = [box["text"] for box in ask["boxes"]]
        if ask["none"]:
            options.append(_NONE_TEXT)
        return paper.lettered(options) + paper.note("Tick every one that answers the question.")

    def paper_right(self, ask: SeveralAsk, key: SeveralKey) -> str:
        """The right ones with their letters."""
        answer = self.right_answer(ask, key)
        return "<br>".join(paper.filled(_with_letter(ask, box)) for box in answer)

    def paper_slips(self, ask: SeveralAsk, key: SeveralKey) -> list[Mistake]:
        """Each box that is told of: ticked where it is wrong, not ticked where it is right."""
        return [
            Mistake(
                _slip(key, box["id"]),
                f"{_with_letter(ask, box['id'])}: {_what(key, box['id'])}",
                key["tell"][box["id"]],
            )
            for box in ask["boxes"]
            if box["id"] in key["tell"]
        ]

    def paper_for_marking(self, ask: SeveralAsk, key: SeveralKey, marks: float) -> str:
        """What a right tick earns and a wrong one costs."""
        right = len(key["right"])
        worth = paper.marks_in_words(marks)
        if not right:
            return paper.note(f"“{_NONE_TEXT}” alone: {worth}. Any other tick: none.")
        earns = paper.marks_in_words(marks / right)
        costs = paper.marks_in_words(marks / (len(ask["boxes"]) - right))
        return paper.note(
            f"Each right box ticked earns {earns}, each wrong one ticked costs {costs}, down to "
            "nothing."
        )


def _credit(boxes: int, right: int, wrong: int, missed: int) -> float:
    if not right:
        return 0.0
    return max(0.0, (right - missed) / right - wrong / (boxes - right))


def _all_right(right: int) -> str:
    if not right:
        return "Right: none of them is."
    return f"Right: all {right}, and no other." if right > 1 else "Right: this one, and no other."


def _counted(ask: SeveralAsk, right: set[str], wrong: list[str], missed: list[str]) -> str:
    accused = f"{len(wrong)} of the {len(ask['boxes']) - len(right)} others ticked."
    if not right:
        return f"None of them is right, but {len(wrong)} ticked."
    return f"{len(right) - len(missed)} of the {len(right)} right ones ticked, {accused}"


def _line(ask: SeveralAsk, key: SeveralKey, box: str) -> str:
    text = next(each["text"] for each in ask["boxes"] if each["id"] == box)
    return f"**{plain(text.rstrip('.'))}** ({_what(key, box)}): {key['tell'][box].strip()}"


def _option(key: SeveralKey, box: Box, answer: Answer) -> Option:
    letter = box["id"]
    right, taken = letter in key["right"], letter in answer
    told = key["tell"].get(letter, "") if right != taken else ""
    return Option(key["names"][letter], box["text"], right, taken, told)


def _what(key: SeveralKey, box: str) -> str:
    return "not ticked" if box in key["right"] else "ticked"


def _slip(key: SeveralKey, box: str) -> str:
    name = key["names"][box]
    return f"missed-{name}" if box in key["right"] else name


def _turned(ask: SeveralAsk, key: SeveralKey, box: str) -> Answer:
    """The right answer with one box ticked the other way."""
    ticked = set(key["right"]) ^ {box}
    left = [each["id"] for each in ask["boxes"] if each["id"] in ticked]
    # Of a single right box that is missed: whoever misses it has ticked another.
    return left or [next(each["id"] for each in ask["boxes"] if each["id"] not in key["right"])]


def _lowered(text: str) -> str:
    return " ".join(text.lower().split())


def _with_letter(ask: SeveralAsk, box: str) -> str:
    if box == NONE:
        return f"{paper.letter_of(len(ask['boxes']))}: {_NONE_TEXT}"
    at = [each["id"] for each in ask["boxes"]].index(box)
    return f"{paper.letter_of(at)}: {ask['boxes'][at]['text']}"

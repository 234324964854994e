"""One option out of several."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from labkit.doors.check import Option
from labkit.doors.verdict import Verdict, unreadable
from labkit.kinds.choice.data import Answer, ChoiceAsk, ChoiceKey
from labkit.kinds.common import paper
from labkit.kinds.common.paper import Mistake


class ChoiceCheck:
    """The one option that is right."""

    def unreadable(self, ask: ChoiceAsk, answer: Any) -> str:
        """No option chosen."""
        known = answer in [option["id"] for option in ask["options"]]
        return "" if known else "Choose one of the options."

    def check(self, ask: ChoiceAsk, key: ChoiceKey, answer: Any) -> Verdict:
        """Right, or what the chosen option overlooks."""
        sentence = self.unreadable(ask, answer)
        if sentence:
            return unreadable(sentence)
        if answer == key["right"]:
            return Verdict(1.0, "Right.")
        return Verdict(0.0, key["tell"][answer], key["slips"][answer])

    def shown(self, ask: ChoiceAsk, answer: Any) -> str:
        """The text of the option."""
        return next((option["text"] for option in ask["options"] if option["id"] == answer), "")

    def right_answer(self, ask: ChoiceAsk, key: ChoiceKey) -> Answer:  # noqa: ARG002
        """The right option."""
        return key["right"]

    def slip_answers(self, ask: ChoiceAsk, key: ChoiceKey) -> dict[str, Answer]:
        """Every wrong option is a mistake of its own."""
        wrong = [option["id"] for option in ask["options"] if option["id"] != key["right"]]
        return {key["slips"][option]: option for option in wrong}

    def options(self, ask: ChoiceAsk, key: ChoiceKey, answer: Answer) -> list[Option]:
        """Each option by its own name."""
        return [
            Option(
                key["slips"][option["id"]],
                option["text"],
                right=option["id"] == key["right"],
                taken=option["id"] == answer,
                told=key["tell"][answer] if option["id"] == answer != key["right"] else "",
            )
            for option in ask["options"]
        ]

    def by_names(self, ask: ChoiceAsk, key: ChoiceKey, answer: Answer) -> list[str]:  # noqa: ARG002
        """The option's own name."""
        return [key["slips"][answer]]

    def from_names(self, ask: ChoiceAsk, key: ChoiceKey, names: Sequence[str]) -> Answer:
        """The letter of the option of this name."""
        letters = (option["id"] for option in ask["options"])
        return next((letter for letter in letters if key["slips"][letter] in names), "")

    def paper(self, ask: ChoiceAsk) -> str:
        """A letter and a box for each option."""
        return paper.lettered([option["text"] for option in ask["options"]])

    def paper_right(self, ask: ChoiceAsk, key: ChoiceKey) -> str:
        """The letter and the text of the right option."""
        return paper.filled(_with_letter(ask, key["right"]))

    def paper_slips(self, ask: ChoiceAsk, key: ChoiceKey) -> list[Mistake]:
        """Each wrong option with its letter."""
        return [
            Mistake(slip, _with_letter(ask, option), key["tell"][option])
            for slip, option in self.slip_answers(ask, key).items()
        ]

    def paper_for_marking(self, ask: ChoiceAsk, key: ChoiceKey, marks: float) -> str:  # noqa: ARG002
        """One box, all or nothing."""
        worth = paper.marks_in_words(marks)
        return paper.note(f"This box alone: {worth}. No box or more than one: none.")


def _with_letter(ask: ChoiceAsk, answer: str) -> str:
    ids = [option["id"] for option in ask["options"]]
    at = ids.index(answer)
    return f"{paper.letter_of(at)}: {ask['options'][at]['text']}"

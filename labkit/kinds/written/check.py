"""A short text that the instructor marks against a rubric."""

from __future__ import annotations

import re
from typing import Any, Final

from labkit.doors.verdict import Verdict, awaiting, unreadable
from labkit.kinds.common import paper
from labkit.kinds.common.rubric import RubricKey
from labkit.kinds.written.data import Answer, WrittenAsk

MAX_CHARACTERS: Final = 9_000
"""Characters of one answer: an entry of the answer journal holds twice as many."""
WORDS_A_LINE: Final = 8
"""How many handwritten words a line of the handout takes."""

# The page counts with the same white space (written.js), so that both give one number.
_SPACE: Final = re.compile(
    "[\\t\\n\\v\\f\\r \\u0085\\u00a0\\u1680\\u2000-\\u200a\\u2028\\u2029\\u202f\\u205f\\u3000]+"
)


class WrittenCheck:
    """A person marks, against the rubric.

    A text outside the limits still goes to the instructor: only a person can say whether nine good
    words are worth more than ninety poor ones.
    """

    def unreadable(self, ask: WrittenAsk, answer: Any) -> str:  # noqa: ARG002
        """Nothing written, or more than a page."""
        if not isinstance(answer, str) or not count_words(answer):
            return "Nothing is written here yet. A few plain sentences will do."
        if len(answer) > MAX_CHARACTERS:
            return f"That is over {MAX_CHARACTERS} characters: shorten it to what was asked."
        return ""

    def check(self, ask: WrittenAsk, key: RubricKey, answer: Any) -> Verdict:  # noqa: ARG002
        """Waits for the instructor, with a word on the length."""
        sentence = self.unreadable(ask, answer)
        if sentence:
            return unreadable(sentence)
        return awaiting(
            _on_length(ask, count_words(answer)) + "Your instructor reads and marks it."
        )

    def shown(self, ask: WrittenAsk, answer: Any) -> str:  # noqa: ARG002
        """The text."""
        return answer.strip() if isinstance(answer, str) else ""

    def right_answer(self, ask: WrittenAsk, key: RubricKey) -> Answer:  # noqa: ARG002
        """The author's model answer; the verdict on it waits too."""
        return key["model"]

    def slip_answers(self, ask: WrittenAsk, key: RubricKey) -> dict[str, Answer]:  # noqa: ARG002
        """None: a person marks."""
        return {}

    def paper(self, ask: WrittenAsk) -> str:
        """Lines for the longest answer."""
        limits = f"{ask['least']} to {ask['most']} words."
        return paper.note(limits) + paper.lines(min(24, max(3, -(-ask["most"] // WORDS_A_LINE))))

    def paper_for_marking(self, ask: WrittenAsk, key: RubricKey, marks: float) -> str:  # noqa: ARG002
        """The rubric, with a cell to write each mark into."""
        return paper.rubric(key["rubric"], marks)


def count_words(text: str) -> int:
    """How many words stand in `text`."""
    return sum(1 for word in _SPACE.split(text) if word)


def _on_length(ask: WrittenAsk, words: int) -> str:
    have = f"That is {words} word{'' if words == 1 else 's'}"
    if words < ask["least"]:
        return f"{have}; at least {ask['least']} are asked for. You can still add to it. "
    if words > ask["most"]:
        return f"{have}; at most {ask['most']} are asked for. You can still shorten it. "
    return f"{have}. "

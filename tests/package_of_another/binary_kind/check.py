"""The kind `binary`: a number written in binary digits."""

from typing import Any

from binary_kind.data import BinaryAsk, BinaryKey
from labkit.doors.check import Option
from labkit.doors.verdict import Verdict, unreadable
from labkit.kinds.common import paper


class BinaryCheck:
    """The digits, most significant first."""

    def unreadable(self, ask: BinaryAsk, answer: Any) -> str:  # noqa: ARG002
        """Anything but noughts and ones."""
        if isinstance(answer, str) and answer and set(answer) <= {"0", "1"}:
            return ""
        return "Write noughts and ones only."

    def check(self, ask: BinaryAsk, key: BinaryKey, answer: Any) -> Verdict:
        """The number that the digits make."""
        sentence = self.unreadable(ask, answer)
        if sentence:
            return unreadable(sentence)
        if int(answer, 2) == key["value"]:
            return Verdict(1.0, "Right.")
        if answer == self.right_answer(ask, key)[::-1]:
            return Verdict(0.0, "You began at the wrong end.", "backwards")
        return Verdict(0.0, "Not right.")

    def shown(self, ask: BinaryAsk, answer: Any) -> str:  # noqa: ARG002
        """As it was written."""
        return str(answer)

    def right_answer(self, ask: BinaryAsk, key: BinaryKey) -> str:
        """All digits, leading noughts too."""
        return format(key["value"], f"0{ask['digits']}b")

    def slip_answers(self, ask: BinaryAsk, key: BinaryKey) -> dict[str, str]:
        """Least significant first."""
        return {"backwards": self.right_answer(ask, key)[::-1]}

    def options(self, ask: BinaryAsk, key: BinaryKey, answer: str) -> list[Option]:
        """From the right end or from the wrong one."""
        right = self.right_answer(ask, key)
        turned = answer == right[::-1]
        written = answer if turned else ""
        return [
            Option("right", "From the right end", right=True, taken=answer == right),
            Option("turned", "From the wrong end", right=False, taken=turned, typed=written),
        ]

    def paper(self, ask: BinaryAsk) -> str:
        """A line to write on."""
        return paper.line(f"{ask['digits']} binary digits")

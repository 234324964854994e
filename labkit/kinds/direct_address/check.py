"""The direct address (IEC 61131-3) of a bit of a device's data, found on a drawn memory map."""

from __future__ import annotations

from typing import Any

from labkit.doors.verdict import Verdict, unreadable
from labkit.fieldbus.direct_address import DirectAddress, Size
from labkit.fieldbus.errors import PlanError
from labkit.kinds.common import paper
from labkit.kinds.common.paper_byte_grid import Block, byte_grid
from labkit.kinds.common.sentences import capital
from labkit.kinds.direct_address.data import Answer, DirectAddressAsk, DirectAddressKey

FORM = "%, then I or Q, the size, the number"
"""Without an address: one that is shown as an example is typed as the answer."""
_LONGEST_TEXT = 60
_BYTES_A_ROW = 4
_SIZES = {
    Size.BIT: "a single bit",
    Size.BYTE: "a whole byte",
    Size.WORD: "a whole word",
    Size.DOUBLE_WORD: "a whole double word",
    Size.LONG_WORD: "a whole long word",
}


class DirectAddressCheck:
    """One address is right, however it is written."""

    def unreadable(self, ask: DirectAddressAsk, answer: Any) -> str:  # noqa: ARG002
        """Not a direct address."""
        if not isinstance(answer, str) or not answer.strip():
            return f"Write a direct address: {FORM}."
        if len(answer) > _LONGEST_TEXT:
            return f"This is too long for a direct address. Write one: {FORM}."
        try:
            _read(answer)
        except PlanError as error:
            return capital(str(error))
        return ""

    def check(self, ask: DirectAddressAsk, key: DirectAddressKey, answer: Any) -> Verdict:
        """Right, or the mistake that leads to this address."""
        sentence = self.unreadable(ask, answer)
        if sentence:
            return unreadable(sentence)
        given = _read(answer)
        right = DirectAddress.from_text(key["address"])
        if given == right:
            return Verdict(1.0, f"Right: {right}.")
        for slip in key["slips"]:
            if str(given) == slip["address"]:
                return Verdict(0.0, slip["tell"], slip["id"])
        if given.size is not right.size:
            sentence = f"{given} names {_SIZES[given.size]}; asked is {_SIZES[right.size]}."
            return Verdict(0.0, sentence, "wrong-size")
        return Verdict(
            0.0,
            "Not right yet. Step by step: the area, where this device's data starts, byte, bit.",
        )

    def shown(self, ask: DirectAddressAsk, answer: Any) -> str:  # noqa: ARG002
        """As the trainee wrote it."""
        return answer if isinstance(answer, str) else ""

    def right_answer(self, ask: DirectAddressAsk, key: DirectAddressKey) -> Answer:  # noqa: ARG002
        """The address."""
        return key["address"]

    def slip_answers(self, ask: DirectAddressAsk, key: DirectAddressKey) -> dict[str, Answer]:
        """The addresses that the known mistakes lead to."""
        answers = {slip["id"]: slip["address"] for slip in key["slips"]}
        right = DirectAddress.from_text(key["address"])
        other = Size.BYTE if right.size is not Size.BYTE else Size.WORD
        spoilt = str(DirectAddress(right.area, other, right.number))
        if self.check(ask, key, spoilt).slip == "wrong-size":
            answers["wrong-size"] = spoilt
        return answers

    def examples(self, ask: DirectAddressAsk) -> list[str]:  # noqa: ARG002
        """What the empty line shows: the form of an address."""
        return [FORM]

    def paper(self, ask: DirectAddressAsk) -> str:
        """The memory map as the page draws it, with the bits of each byte, and a line."""
        blocks: list[Block] = [(b["device"], b["at"], b["length"]) for b in ask["blocks"]]
        last = max([1, *(at + length for _, at, length in blocks)])
        size = min(ask["bytes"], last + -last % _BYTES_A_ROW)
        head = f"The {ask['area']} area of the controller, bytes 0 to {size - 1}:"
        grid = byte_grid(ask["area"], size, blocks, bits=True)
        return paper.note(head) + grid + paper.line("Direct address")

    def paper_for_marking(self, ask: DirectAddressAsk, key: DirectAddressKey, marks: float) -> str:  # noqa: ARG002
        """One address, however it is written."""
        small = "Small letters count as capitals; X may be left out before a bit."
        return paper.note(f"This address alone: {paper.marks_in_words(marks)}. {small}")


def _read(text: str) -> DirectAddress:
    """A direct address; blanks within it mean nothing. Raises `PlanError`."""
    return DirectAddress.from_text("".join(text.split()))

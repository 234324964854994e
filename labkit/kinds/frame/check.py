"""DeviceNet frames: read into their meaning, or written from it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from labkit.doors.verdict import Verdict
from labkit.fieldbus.devicenet.decoder import decode_log
from labkit.fieldbus.devicenet.identifiers import Identifier
from labkit.fieldbus.errors import PlanError
from labkit.kinds.common import cells, paper
from labkit.kinds.common import paper_forms as forms
from labkit.kinds.common.cell_data import NO_KEY
from labkit.kinds.common.cells import Part, State
from labkit.kinds.common.paper import Mistake
from labkit.kinds.frame.data import Answer, FrameAsk, FrameKey

IDENTIFIER: Final = "identifier"
DATA: Final = "data"
_NOUN: Final = "line"
_REMARK: Final = ", yet no "


class FrameCheck:
    """Credit is the share of the lines that are right."""

    def unreadable(self, ask: FrameAsk, answer: Any) -> str:
        """Nothing filled in, or nothing that can be read."""
        return cells.why_unreadable(_parts(ask), answer, _NOUN)

    def asks_back(self, ask: FrameAsk, answer: Any) -> list[str]:
        """Each line that cannot be read, and why."""
        return cells.asks_back(_parts(ask), answer)

    def check(self, ask: FrameAsk, key: FrameKey, answer: Any) -> Verdict:
        """The share of the lines that are right; what a wrong identifier or data would mean."""
        return cells.form_verdict(
            _parts(ask, key), answer, noun=_NOUN, when_right=f"Right. {_in_words(key['frames'])}"
        )

    def states(self, ask: FrameAsk, key: FrameKey, answer: Any) -> dict[str, State]:
        """How each line stands."""
        return cells.states(_parts(ask, key), answer)

    def shown(self, ask: FrameAsk, answer: Any) -> str:
        """Each line's name and what stands in it."""
        return cells.shown(_parts(ask), answer)

    def right_answer(self, ask: FrameAsk, key: FrameKey) -> Answer:
        """Every line filled in rightly."""
        return cells.right_answers(_parts(ask, key))

    def slip_answers(self, ask: FrameAsk, key: FrameKey) -> dict[str, Answer]:
        """A right answer spoilt by each way of misreading or miswriting a frame."""
        return cells.slip_answers(_parts(ask, key), lambda answer: self.check(ask, key, answer))

    def paper(self, ask: FrameAsk) -> str:
        """The frames, each with its fields and boxes for the bits of its identifier."""
        fields = [field for frame in ask["frames"] for field in frame["fields"]]
        shown = [
            forms.bit_boxes(_head(ask, number)) + forms.field_form(frame["fields"])
            for number, frame in enumerate(ask["frames"], 1)
        ]
        return "".join(shown) + forms.word_lists(fields)

    def paper_right(self, ask: FrameAsk, key: FrameKey) -> str:
        """The frames with their fields filled in."""
        right = {part.name: part for part in _parts(ask, key)}
        return "".join(
            paper.note(_head(ask, number)) + forms.field_form(frame["fields"], right)
            for number, frame in enumerate(ask["frames"], 1)
        )

    def paper_slips(self, ask: FrameAsk, key: FrameKey) -> list[Mistake]:
        """Each slip with the lines alone that it changes."""
        return forms.mistakes(_parts(ask, key), (), self.slip_answers(ask, key))

    def paper_for_marking(self, ask: FrameAsk, key: FrameKey, marks: float) -> str:
        """What each line is worth, and the frames in words."""
        return forms.marks_a_cell(_parts(ask, key), marks, _NOUN) + paper.note(
            _in_words(key["frames"])
        )


def _parts(ask: FrameAsk, key: FrameKey | None = None) -> list[Part]:
    many = len(ask["frames"]) > 1
    parts = []
    for number, frame in enumerate(ask["frames"], 1):
        head = f"Frame {number}" if many else ""
        for cell in frame["fields"]:
            explain = None
            if key and ask["task"] == "write":
                explain = _explanation(cell["name"], *key["frames"][number - 1])
            found = key["cells"][cell["name"]] if key else NO_KEY
            parts.append(Part(cell["name"], cell["label"], cell, found, explain, head))
    return parts


def _head(ask: FrameAsk, number: int) -> str:
    """A frame's number, where there are several, and its bytes where they are given."""
    frame = ask["frames"][number - 1]
    name = f"Frame {number}" if len(ask["frames"]) > 1 else "The frame"
    if ask["task"] == "write":
        return f"{name}, its identifier bit by bit"
    data = " ".join(frame["data"]) or "none"
    return f"{name}: identifier {frame['identifier']}, data {data} (hexadecimal)"


def _explanation(name: str, identifier: int, _data: list[int]) -> Callable[[Any], str]:
    if name.endswith(IDENTIFIER):
        return _identifier_in_words
    return lambda given: _data_in_words(identifier, given)


def _identifier_in_words(given: int) -> str:
    try:
        return f"not right yet. What you wrote is {Identifier.from_value(given)}."
    except PlanError as error:
        return f"not right yet: {error}"


def _data_in_words(identifier: int, given: list[int]) -> str:
    """What the frame would say with these data bytes."""
    return f"not right yet. With these bytes it would say: {_sentence(identifier, given)}."


def _in_words(frames: list[list[Any]]) -> str:
    log = [(float(at), value, bytes(data)) for at, (value, data) in enumerate(frames)]
    said = "; ".join(_without_remark(sentence.text) for sentence in decode_log(log))
    return f"In words: {said}."


def _sentence(identifier: int, data: list[int]) -> str:
    [sentence] = decode_log([(0.0, identifier, bytes(data))])
    return _without_remark(sentence.text)


def _without_remark(text: str) -> str:
    """A question may show a response alone: that no request came before it is no news."""
    return text.split(_REMARK)[0].rstrip(".")

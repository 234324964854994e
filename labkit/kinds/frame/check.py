"""Frames: read into their meaning, or written from it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from labkit.doors.installed import frames_for
from labkit.doors.verdict import Verdict
from labkit.fieldbus.errors import PlanError
from labkit.kinds.common import cells, paper
from labkit.kinds.common import paper_forms as forms
from labkit.kinds.common.cell_data import NO_KEY
from labkit.kinds.common.cells import Part, State
from labkit.kinds.common.of_family import family_of
from labkit.kinds.common.paper import Mistake
from labkit.kinds.frame.data import Answer, FrameAsk, FrameKey

IDENTIFIER: Final = "identifier"
DATA: Final = "data"
_NOUN: Final = "line"


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
            _parts(ask, key), answer, noun=_NOUN, when_right=f"Right. {_in_words(ask, key)}"
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
        bits = frames_for(family_of(ask)).identifier_bits
        shown = [
            forms.bit_boxes(_head(ask, number), bits) + forms.field_form(frame["fields"])
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
        return forms.marks_a_cell(_parts(ask, key), marks, _NOUN) + paper.note(_in_words(ask, key))


def _parts(ask: FrameAsk, key: FrameKey | None = None) -> list[Part]:
    many = len(ask["frames"]) > 1
    parts = []
    for number, frame in enumerate(ask["frames"], 1):
        head = f"Frame {number}" if many else ""
        for cell in frame["fields"]:
            explain = None
            if key and ask["task"] == "write":
                explain = _explanation(ask, cell["name"], key["frames"][number - 1][0])
            found = key["cells"][cell["name"]] if key else NO_KEY
            parts.append(Part(cell["name"], cell["label"], cell, found, explain, head))
    return parts


def _head(ask: FrameAsk, number: int) -> str:
    """A frame's number, where there are several, and its bytes where they are given."""
    frame = ask["frames"][number - 1]
    name = f"Frame {number}" if len(ask["frames"]) > 1 else "The frame"
    if ask["task"] == "write":
        bits = frames_for(family_of(ask)).identifier_bits
        return f"{name}, its identifier bit by bit" if bits else name
    identifier = f"identifier {frame['identifier']}, " if "identifier" in frame else ""
    return f"{name}: {identifier}data {' '.join(frame['data']) or 'none'} (hexadecimal)"


def _explanation(ask: FrameAsk, name: str, identifier: int) -> Callable[[Any], str]:
    frames = frames_for(family_of(ask))

    def of_identifier(given: int) -> str:
        try:
            return f"not right yet. What you wrote is {frames.identifier_in_words(given)}."
        except PlanError as error:
            return f"not right yet: {error}"

    def of_data(given: list[int]) -> str:
        [said] = frames.in_words([(identifier, bytes(given))])
        return f"not right yet. With these bytes it would say: {said}."

    return of_identifier if name.endswith(IDENTIFIER) else of_data


def _in_words(ask: FrameAsk, key: FrameKey) -> str:
    frames = [(identifier, bytes(data)) for identifier, data in key["frames"]]
    return f"In words: {'; '.join(frames_for(family_of(ask)).in_words(frames))}."

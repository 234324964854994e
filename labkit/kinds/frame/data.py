"""What an exercise of the kind `frame` is made of."""

from __future__ import annotations

from typing import Any, Literal, NotRequired, TypedDict

from labkit.kinds.common.cell_data import ExactCell, ExactKey, FormAnswer
from labkit.kinds.common.of_family import OfFamily

Answer = FormAnswer
"""By line, the text as written."""
Task = Literal["read", "write"]


class ShownFrame(TypedDict):
    """A frame and the lines to write; one that is to be written itself has those alone."""

    identifier: NotRequired[str]
    data: NotRequired[list[str]]
    line: NotRequired[str]
    fields: list[ExactCell]


class FrameAsk(OfFamily):
    """The frames, to be read into their meaning, or to be written from it."""

    task: Task
    frames: list[ShownFrame]


class FrameKey(TypedDict):
    """By line, what is right; of each frame [identifier, data bytes]."""

    cells: dict[str, ExactKey]
    frames: list[list[Any]]

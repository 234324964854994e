"""What an exercise of the kind `several` is made of."""

from __future__ import annotations

from typing import Final, TypedDict

NONE: Final = "none"
"""What is answered where none is right; no box has this letter."""

Answer = list[str]
"""The letters of the boxes that are ticked, or NONE alone."""


class Box(TypedDict):
    """A box to tick; its `id` is a letter, in drawn order."""

    id: str
    text: str


class SeveralAsk(TypedDict):
    """What the trainee sees; `none` is whether they may say that none is right."""

    boxes: list[Box]
    none: bool


class SeveralKey(TypedDict):
    """The right letters; by letter, the author's name, and what to tell where it is wrong.

    That is told of a right one where it is not ticked, of a wrong one where it is.
    """

    right: list[str]
    names: dict[str, str]
    tell: dict[str, str]

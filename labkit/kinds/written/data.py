"""What an exercise of the kind `written` is made of; its key is a `RubricKey`."""

from __future__ import annotations

from typing import TypedDict

Answer = str
"""The text itself."""


class WrittenAsk(TypedDict):
    """How many words are asked for."""

    least: int
    most: int

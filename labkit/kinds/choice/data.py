"""What an exercise of the kind `choice` is made of."""

from __future__ import annotations

from typing import TypedDict

Answer = str
"""The letter of an option."""


class Option(TypedDict):
    """An option; its `id` is a letter, in drawn order."""

    id: str
    text: str


class ChoiceAsk(TypedDict):
    """What the trainee sees."""

    options: list[Option]


class ChoiceKey(TypedDict):
    """By letter, what to tell of a wrong option, and the option's own name."""

    right: str
    slips: dict[str, str]
    tell: dict[str, str]

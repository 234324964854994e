"""What an exercise of the kind `sign_off` is made of. Its key is a `RubricKey`."""

from __future__ import annotations

from typing import TypedDict


class Item(TypedDict):
    """What the instructor must see, and what they will look for."""

    id: str
    text: str
    look_for: str


class SignOffAsk(TypedDict):
    """The items; `caution` is Markdown, "" without one."""

    items: list[Item]
    caution: str


class State(TypedDict):
    """Whether an item is ready to be seen, never whether it was seen."""

    ready: bool
    note: str


Answer = dict[str, State]
"""By the item's id."""

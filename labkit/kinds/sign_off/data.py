"""What an exercise of the kind `sign_off` is made of. Its key is a `RubricKey`."""

from __future__ import annotations

from typing import Any, Final, NotRequired, TypedDict

from labkit.kinds.common.of_family import OfFamily

LOG: Final = "log"
"""Where an answer has its log; no item may be called so beside one."""


class Item(TypedDict):
    """What the instructor must see, and what they will look for."""

    id: str
    text: str
    look_for: str


class LogAsk(TypedDict):
    """What a log of the real network is held against, as the family's own JSON."""

    planned: dict[str, Any]


class SignOffAsk(OfFamily):
    """The items; `caution` is Markdown, "" without one. `log` is there where one may be dropped."""

    items: list[Item]
    caution: str
    log: NotRequired[LogAsk]


class State(TypedDict):
    """Whether an item is ready to be seen, never whether it was seen."""

    ready: bool
    note: str


class LogAnswer(TypedDict):
    """What was heard in a log, as the family's own JSON, and what was to be known of reading it."""

    name: str
    heard: Any
    remarks: list[str]


Answer = dict[str, Any]
"""By the item's id a `State`; by `LOG` a `LogAnswer`."""

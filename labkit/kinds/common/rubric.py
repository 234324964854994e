"""What decides the marks where a person marks."""

from __future__ import annotations

from typing import TypedDict


class Criterion(TypedDict):
    """What earns a share of the exercise's marks."""

    id: str
    text: str
    marks_share: float


class RubricKey(TypedDict):
    """The `key`: the shares add up to 1; `model` is the author's own answer, "" without one."""

    rubric: list[Criterion]
    model: str

"""What an exercise of the kind `test_plan` is made of."""

from __future__ import annotations

from typing import Literal, NotRequired, TypedDict

Answer = list[list[str]]
"""For each step the outputs that are commanded on, or the inputs that are on.

A step without any counts for nothing.
"""


class Point(TypedDict):
    """An output, and what the machine asks of whoever commands it; its `id` is a letter.

    `only_with`: it may be on only while that one is, too. `after`: it may be on only once that one
    was on in an earlier step. "" for nothing.
    """

    id: str
    text: str
    only_with: str
    after: str


class TestPlanAsk(TypedDict):
    """The outputs, those of which two may never be on together, and the most steps.

    `of` is there where inputs are tested.
    """

    points: list[Point]
    apart: list[tuple[str, str]]
    steps: int
    of: NotRequired[Literal["inputs"]]


class TestPlanKey(TypedDict):
    """A plan that finds every crossed pair."""

    example: Answer

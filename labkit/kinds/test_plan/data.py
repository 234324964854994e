"""What an exercise of the kind `test_plan` is made of."""

from __future__ import annotations

from typing import Final, TypedDict

CAUTION: Final = (
    "Every step moves something. Nobody may be in reach of what can move; whoever answers for the "
    "machine says when; the stop was tried first. The site's own rules and your local codes come "
    "first, and what they reserve for trained and permitted people stays theirs."
)
"""Shown wherever such a plan is made."""

Answer = list[list[str]]
"""For each step the outputs that are commanded on; a step without any counts for nothing."""


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
    """The outputs, those of which two may never be on together, and the most steps."""

    points: list[Point]
    apart: list[tuple[str, str]]
    steps: int


class TestPlanKey(TypedDict):
    """A plan that finds every crossed pair."""

    example: Answer

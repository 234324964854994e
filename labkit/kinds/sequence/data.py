"""What an exercise of the kind `sequence` is made of."""

from __future__ import annotations

from typing import TypedDict

Answer = list[str]
"""The letters of the steps, first to last."""

Pair = tuple[str, str]
"""Two steps, of which the first must come before the second; a list of two after JSON."""


class Step(TypedDict):
    """A step; its `id` is a letter, in dealt order."""

    id: str
    text: str


class SequenceAsk(TypedDict):
    """The steps as they are dealt; `caution` is Markdown, "" without one."""

    steps: list[Step]
    caution: str


class KnownMistake(TypedDict):
    """`early` stands before `late`, and must not; who is put in `danger` by it earns nothing."""

    id: str
    early: str
    late: str
    tell: str
    danger: bool


class SequenceKey(TypedDict):
    """One right order, every pair of steps that has an order, the known mistakes; by letter, the
    author's name of a step.
    """

    order: list[str]
    pairs: list[Pair]
    slips: list[KnownMistake]
    names: dict[str, str]

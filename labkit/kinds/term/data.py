"""What an exercise of the kind `term` is made of."""

from __future__ import annotations

from typing import TypedDict

Answer = str
"""The term as typed."""


class TermAsk(TypedDict):
    """Whether the spelling must be exact."""

    exact: bool


class WrongTerm(TypedDict):
    """A term that is known to be mistaken for the right one."""

    id: str
    spellings: list[str]
    tell: str


class TermKey(TypedDict):
    """The spellings of the right term, the usual one first; and the wrong ones."""

    spellings: list[str]
    wrong: list[WrongTerm]

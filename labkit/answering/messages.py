"""The messages between a page and `Answering`, and what the page shows."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any, Literal, NotRequired, TypedDict


class AnswerMessage(TypedDict):
    """The page: keep this answer."""

    do: Literal["answer"]
    token: str
    answer: Any


class HintMessage(TypedDict):
    """The page: open the next hint, at its cost."""

    do: Literal["hint"]
    token: str


class StepMessage(TypedDict):
    """The page: do this at the bench."""

    do: Literal["step"]
    token: str
    step: Any


def token_of(message: object) -> str:
    """The token of a message that wants to be kept or answered; "" where it has none.

    Half a surrogate pair, which is no text, does not print either.
    """
    token = message.get("token") if isinstance(message, dict) else None
    return token if isinstance(token, str) and token.isprintable() else ""


def passed_by(token: str, others: Collection[str]) -> bool:
    """Whether the page that sent this message sent one of the others in its place, later.

    A page numbers what takes the place of what still waits: "x.3" passes by "x.2", which may have
    been on its way for long.
    """
    page, dot, number = token.rpartition(".")
    if not dot or not number.isdecimal():
        return False
    mine = [other[len(page) + 1 :] for other in others if other.startswith(f"{page}.")]
    return any(other.isdecimal() and int(other) > int(number) for other in mine)


class Reply(TypedDict):
    """To the page. `saved` is there once the message is on disk, and only then.

    With `saved`, `failed` says why a step was not done; without it, why nothing was kept. With
    `again` the disk did not take it, but may soon: the page sends the same message again.
    """

    token: str
    saved: NotRequired[Literal[True]]
    failed: NotRequired[str]
    again: NotRequired[Literal[True]]
    reply: NotRequired[dict[str, Any]]
    tried: NotRequired[dict[str, Any]]
    file: NotRequired[dict[str, Any]]


class Shown(TypedDict):
    """An exercise as the page shows it before there is an answer."""

    id: str
    number: int
    title: str
    question: str
    """HTML."""
    marks: float
    ask: dict[str, Any]
    practice: bool
    awaits: bool
    hints: list[float]
    """What each hint costs, as a share of the marks."""
    view: dict[str, Any]


class Told(TypedDict):
    """A verdict as the page tells it."""

    right: bool
    readable: bool
    awaits: bool
    credit: float
    html: str
    working: str
    tries: NotRequired[int]
    """In practice: how many answers there were by now."""
    cells: NotRequired[Mapping[str, str] | None]
    """How each of many small answers stands."""
    topic: NotRequired[str]
    """After an answer in practice: how the trainee stands in its topic, in words."""


class Example(TypedDict):
    """The exercise with other numbers, worked: HTML, and the picture as SVG."""

    question: str
    answer: str
    working: str
    picture: str


class Saved(TypedDict):
    """What is on disk of an exercise, and what may be told of it."""

    token: str
    """Of the last message that was kept; "" after reopening."""
    answered: bool
    answer: Any
    at: str
    hints: list[str]
    """The text of each hint that was opened, HTML."""
    verdict: Told | None
    example: Example | None

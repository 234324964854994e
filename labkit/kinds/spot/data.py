"""What an exercise of the kind `spot` is made of."""

from __future__ import annotations

from typing import Literal, TypedDict

Answer = list[list[int] | str]
"""Points [x, y] in thousandths of the picture's width and height; or names out of `names`."""


class SpotAsk(TypedDict):
    """What the trainee sees.

    `picture` is data to show; `words` say what it shows, `size` is in pixels. `names` is empty
    unless the author lets places be chosen by name: names and positions tell too much otherwise.
    """

    picture: str
    words: str
    size: list[int]
    points: int
    names: list[str]


class Place(TypedDict):
    """A place; `edges` are left, top, right, bottom in thousandths. An oval fills its box."""

    id: str
    name: str
    form: Literal["box", "oval"]
    edges: list[int]


class SpotKey(TypedDict):
    """All places, the ids of those that are right, and what to tell of each that is not."""

    places: list[Place]
    right: list[str]
    tell: dict[str, str]

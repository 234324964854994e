"""What an exercise of the kind `spot` is made of."""

from __future__ import annotations

from typing import Literal, NotRequired, TypedDict

from labkit.kinds.common.drawn import Picture

Item = list[int] | str
"""A point [x, y] in thousandths of a picture's width and height; or a name out of `names`; in the
drawing of a network the id of a part."""
Answer = list[Item]


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


class Part(TypedDict):
    """A part of a network that can be pointed at: its id, and what it is in words."""

    id: str
    words: str


class NetworkAsk(TypedDict):
    """The same where the picture is the drawing of a network: what is drawn decides nothing."""

    points: int
    parts: list[Part]
    drawings: NotRequired[list[Picture]]
    bands: NotRequired[list[Picture]]


class NetworkKey(TypedDict):
    """The ids of what is right; those of each known mistake, by its id; what to tell of it."""

    right: list[str]
    slips: dict[str, list[str]]
    tell: dict[str, str]

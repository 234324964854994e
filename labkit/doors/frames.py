"""What a network family says of the frames on its wire, and how a lab describes them."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

FrameValue = int | str | list[int]
"""A whole or hexadecimal number, a word, bytes."""


class FamilyFrames(Protocol):
    """What the part `frames` of a family offers."""

    identifier_bits: int
    """0 where frames have no identifier: theirs is always 0."""
    most_bytes: int
    """The most data that a frame carries; a trainee's line has room for 26 bytes."""

    def identifier_in_words(self, identifier: int) -> str:
        """What an identifier means. Raises `PlanError` for one that cannot be."""

    def in_words(self, frames: Sequence[tuple[int, bytes]]) -> list[str]:
        """What each frame says, when they come one after the other."""


@dataclass(frozen=True, slots=True)
class Encoded:
    """A frame, and how it comes out where it is written in known wrong ways (slip, outcome)."""

    identifier: int
    data: bytes
    wrong_identifiers: tuple[tuple[str, int], ...] = ()
    wrong_data: tuple[tuple[str, bytes], ...] = ()


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing to read out of a frame: what to write, what is right, and slips (id → value)."""

    label: str
    value: FrameValue
    slips: tuple[tuple[str, FrameValue], ...] = ()
    digits: int = 0
    """Of a hexadecimal number."""
    words: list[str] | None = None
    """To choose from."""


class FrameRecipe(Protocol):
    """How a frame is made from a lab's names."""

    def encode(self, names: Mapping[str, Any]) -> Encoded:
        """The frame for a scenario. Raises `DefinitionError` where none can be so."""


class FrameReading(Protocol):
    """What the part `frame_reading` of a family offers."""

    fields: type[Any]
    """The fields that describe a frame: a `Strict` of `labkit.lab.reading`, without `fields`."""
    facts: Collection[str]
    """What can be asked of a frame, by the name that a lab's author writes."""
    tells: Mapping[str, str]
    """Of each known mistake in reading a frame, what a trainee is told."""
    write_tells: Mapping[str, str]
    """Of each known mistake in writing one."""

    def recipe(self, fields: Any, reader: Any, *path: str | int) -> FrameRecipe:
        """The recipe of the frame that is written at `path`. Raises `DefinitionError`."""

    def fact(self, name: str, frame: Encoded) -> Fact:
        """What a frame says. Raises `PlanError` where it does not say that."""

    def number(self, label: str, piece: bytes, *, signed: bool) -> Fact:
        """The whole number that stands in a piece of the data."""

    def line(self, frame: Encoded, at: int) -> str:
        """The frame as a log shows it, `at` s after its start."""

"""The network family that an exercise is of, as its `ask` says."""

from __future__ import annotations

from typing import NotRequired, TypedDict

from labkit.doors.family import FIRST_FAMILY


class OfFamily(TypedDict):
    """An `ask` that says of which family it is, unless that is the first."""

    family: NotRequired[str]


def family_of(ask: OfFamily) -> str:
    """The family of an exercise."""
    return ask.get("family", FIRST_FAMILY)


def say_family(ask: OfFamily, family: str) -> None:
    """Write the family into `ask`; task files of the first family do not name it."""
    if family != FIRST_FAMILY:
        ask["family"] = family

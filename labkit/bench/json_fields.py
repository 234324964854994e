"""Fields of faults, actions and measurements that are plain JSON only after a conversion."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import MISSING, Field
from typing import Any

_WRITE, _READ, _USUAL = "write", "read", "usual"


def as_json(write: Callable[[Any], Any], read: Callable[[Any], Any]) -> Mapping[str, Any]:
    """The metadata of a field that `write` makes JSON of, and `read` reads back."""
    return {_WRITE: write, _READ: read}


def usually(what: str) -> Mapping[str, Any]:
    """The metadata of a field that JSON may leave out: it is then `what` of the conductors."""
    return {_USUAL: what}


def usual(item: Field[Any]) -> str | None:
    """What of the conductors stands for the field where JSON leaves it out; None of most fields."""
    return item.metadata.get(_USUAL)


def is_needed(item: Field[Any]) -> bool:
    """Whether JSON must give the field."""
    return item.default is MISSING and usual(item) is None


def writer(item: Field[Any]) -> Callable[[Any], Any] | None:
    """What makes JSON of the field; None where its type says all."""
    return item.metadata.get(_WRITE)


def reader(item: Field[Any]) -> Callable[[Any], Any] | None:
    """What reads the field's JSON; None where its type says all."""
    return item.metadata.get(_READ)

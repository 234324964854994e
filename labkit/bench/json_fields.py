"""Fields of faults, actions and measurements that are plain JSON only after a conversion."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import Field
from typing import Any

_WRITE, _READ = "write", "read"


def as_json(write: Callable[[Any], Any], read: Callable[[Any], Any]) -> Mapping[str, Any]:
    """The metadata of a field that `write` makes JSON of, and `read` reads back."""
    return {_WRITE: write, _READ: read}


def writer(item: Field[Any]) -> Callable[[Any], Any] | None:
    """What makes JSON of the field; None where its type says all."""
    return item.metadata.get(_WRITE)


def reader(item: Field[Any]) -> Callable[[Any], Any] | None:
    """What reads the field's JSON; None where its type says all."""
    return item.metadata.get(_READ)

"""Holding JSON that came from elsewhere against a table of the parts that it must have."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeAlias

Fits = Callable[[Any], bool]
Parts: TypeAlias = Mapping[str, "Fits | Parts"]
"""What each part of an object must be: a test of its value, or the parts that it has itself."""


def of(*kinds: type) -> Fits:
    """A value of one of these types."""
    return lambda value: isinstance(value, kinds)


def each(parts: Parts) -> Fits:
    """A list of objects that have these parts."""
    return lambda value: isinstance(value, list) and not any(misfit(item, parts) for item in value)


def misfit(value: Any, parts: Parts, *, only: bool = False) -> list[str]:
    """The way to the first part that is missing or not as it should be; empty where all fits.

    With `only` there may be no other parts. Any JSON may come; "" stands for the whole.
    """
    if not isinstance(value, dict):
        return [""]
    for name, wanted in parts.items():
        if name not in value:
            return [name]
        if isinstance(wanted, Mapping):
            if inner := misfit(value[name], wanted, only=only):
                return [name, *filter(None, inner)]
        elif not wanted(value[name]):
            return [name]
    return [name for name in value if name not in parts][:1] if only else []

"""New exercise kinds and network families plug in through entry points, not through edits."""

from __future__ import annotations

from functools import lru_cache
from importlib.metadata import EntryPoint, entry_points
from typing import Any, Final

CHECKS: Final = "labkit.checks"
READERS: Final = "labkit.readers"
NETWORKS: Final = "labkit.networks"
WIDGETS: Final = "labkit.widgets"


@lru_cache(maxsize=8)
def _found(group: str) -> dict[str, EntryPoint]:
    return {point.name: point for point in entry_points(group=group)}


def names(group: str) -> frozenset[str]:
    """The names that installed packages offer in a group."""
    return frozenset(_found(group))


@lru_cache(maxsize=64)
def load(group: str, name: str) -> Any:
    """The object behind a name. Raises `KeyError` when nothing installed offers it."""
    return _found(group)[name].load()

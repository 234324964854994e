"""New exercise kinds and network families plug in through entry points, not through edits."""

from __future__ import annotations

from functools import lru_cache
from importlib.metadata import EntryPoint, entry_points
from typing import Any, Final

CHECKS: Final = "labkit.checks"
READERS: Final = "labkit.readers"
NETWORKS: Final = "labkit.networks"
WIDGETS: Final = "labkit.widgets"
_OURS: Final = "labkit"


@lru_cache(maxsize=8)
def _found(group: str) -> dict[str, EntryPoint]:
    return {point.name: point for point in entry_points(group=group)}


def names(group: str) -> frozenset[str]:
    """The names that installed packages offer in a group."""
    return frozenset(_found(group))


@lru_cache(maxsize=64)
def origin(group: str, name: str) -> str:
    """The package that offers a name, with its release; "" for our own."""
    return _package(_found(group)[name])


def origin_of_module(group: str, module: str) -> str:
    """The package that offers something of a group from a module's package; "" for our own."""
    top = module.partition(".")[0]
    points = (point for point in _found(group).values() if point.module.partition(".")[0] == top)
    return next((_package(point) for point in points), "")


def _package(point: EntryPoint) -> str:
    if point.dist is None or point.module.partition(".")[0] == _OURS:
        return ""
    return f"{point.dist.name} {point.dist.version}"


@lru_cache(maxsize=64)
def load(group: str, name: str) -> Any:
    """The object behind a name. Raises `KeyError` when nothing installed offers it."""
    return _found(group)[name].load()

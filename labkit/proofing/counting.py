"""What is counted over the draws, so that later draws can be added to earlier ones."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import Generic, Protocol, Self, TypeVar

_T = TypeVar("_T")
_Key = TypeVar("_Key", bound=Hashable)


class Counted(Protocol):
    """Something to which what later draws gave can be added."""

    def add(self, later: Self) -> None:
        """Add what later draws gave."""


_Counted = TypeVar("_Counted", bound=Counted)


def add_all(counted: dict[_Key, _Counted], later: Mapping[_Key, _Counted]) -> None:
    """Add what later draws gave under each key."""
    for key, item in later.items():
        if key in counted:
            counted[key].add(item)
        else:
            counted[key] = item


@dataclass(slots=True)
class Cases(Generic[_T]):
    """So many cases of something, and the first of them."""

    first: _T
    count: int = 1

    def add(self, later: Cases[_T]) -> None:
        """Add the cases of later draws."""
        self.count += later.count


def both(cases: Cases[_T] | None, later: Cases[_T] | None) -> Cases[_T] | None:
    """The cases of earlier and later draws together; None where there is none."""
    if cases is None or later is None:
        return later if cases is None else cases
    return Cases(cases.first, cases.count + later.count)


def add_case(cases: dict[_Key, Cases[_T]], key: _Key, case: _T) -> None:
    """Count one more case under `key`."""
    add_all(cases, {key: Cases(case)})

"""A bench as plain JSON: what passes to the process in which it is played."""

from __future__ import annotations

from typing import Any, TypedDict


class PlainBench(TypedDict):
    """All that decides what is read at a bench. `assessed`: only what a recording would show."""

    setup: dict[str, Any]
    faults: list[dict[str, Any]]
    power: bool
    costs: dict[str, float]
    assessed: bool

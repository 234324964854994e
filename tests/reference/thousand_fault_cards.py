"""Readings of 1,000 dealt fault cards against ngspice, as `test_fault_cards_spice.py` does with 40.

    cd tests/reference
    PYTHONPATH=.:.. uv run --frozen python thousand_fault_cards.py [how many cards]

It takes some ten minutes, so CI does not run it.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TypeVar

from card_circuits import (
    dealt_readings,
    require_open_where_nothing_joins,
    require_our_own,
    require_their_own_card,
)

Result = TypeVar("Result")


def main(cards: int) -> None:
    """Raise AssertionError with the first reading that does not agree."""
    print(f"dealing {cards} cards", flush=True)
    readings = [taken for card in dealt_readings(cards) for taken in card]
    joined = sum(taken.drawn.joined() for taken in readings)
    print(f"{len(readings)} readings, {joined} of them not open", flush=True)
    with TemporaryDirectory() as made:
        folder = Path(made)
        opens = _timed(
            "open where nothing joins", lambda: require_open_where_nothing_joins(readings)
        )
        print(f"  {opens} places are open with some card in", flush=True)
        _timed("parts as planned", lambda: require_our_own(readings, folder))
        told, others = _timed("parts by chance", lambda: require_their_own_card(readings, folder))
        print(f"  each reading agrees with its own card; {told} of {others} others ruled out")


def _timed(what: str, act: Callable[[], Result]) -> Result:
    start = time.perf_counter()
    found = act()
    print(f"{what}: holds ({time.perf_counter() - start:.0f} s)", flush=True)
    return found


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)

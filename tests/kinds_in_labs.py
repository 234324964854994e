"""Labs in which every kind is found: those that we ship, then the small ones of the tests."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path

from labkit.doors.installed import kinds

_TESTS = Path(__file__).parent
SHIPPED = sorted((_TESTS.parent / "labs").glob("*/lab.md"))
SMALL = sorted((_TESTS / "lab" / "labs").glob("*/lab.md"))


def files_of_every_kind(first: Iterable[Path] = ()) -> list[Path]:
    """The files `first`, then those of others that have a kind which none before them has."""
    chosen = list(first)
    found = {kind for file in chosen for kind in _kinds_in(file)}
    for file in [*SHIPPED, *SMALL]:
        if new := _kinds_in(file) - found:
            chosen.append(file)
            found |= new
    if missing := sorted(set(kinds()) - found):
        raise AssertionError(f"no lab has an exercise of the kinds {', '.join(missing)}")
    return chosen


def _kinds_in(file: Path) -> set[str]:
    said = re.findall(r"^kind: (\w+)$", file.read_text(encoding="utf-8"), re.MULTILINE)
    return set(said) & set(kinds())

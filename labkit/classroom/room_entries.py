"""Reading the log of a held class: one JSON object a line (`room/room.jsonl`)."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

TOGETHER: Final = "together"
"""The act that lets one trainee work in another's workbook."""
PARTED: Final = "parted"
RELEASED: Final = "released"
"""The act that lets everybody see their results of a lab."""


def room_lines(file: Path) -> Iterator[tuple[bytes, dict[str, Any] | None]]:
    """Each line that is not empty, and its entry; None for one that a power cut tore.

    There are none where there is no such file. Raises `OSError` for one that cannot be read.
    """
    try:
        data = file.read_bytes()
    except FileNotFoundError:
        return
    for line in data.split(b"\n"):
        if line.strip():
            yield line, _entry(line)


def room_entries(file: Path) -> Iterator[dict[str, Any]]:
    """The entries alone, in their order."""
    return (entry for _, entry in room_lines(file) if entry is not None)


def _entry(line: bytes) -> dict[str, Any] | None:
    try:
        entry = json.loads(line)
    except (ValueError, RecursionError):
        return None
    return entry if isinstance(entry, dict) else None

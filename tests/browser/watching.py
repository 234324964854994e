"""What goes wrong unseen while somebody works: errors in the console, tracebacks of the engine."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from driving import Server, Station

TRACEBACK = "Traceback (most recent call last)"


@contextmanager
def watched(station: Station, server: Server) -> Iterator[None]:
    """Nothing may go wrong in the browser's console, in the engine or at the server meanwhile."""
    errors: list[str] = []
    before = server.log.stat().st_size
    station.page.on("console", lambda message: _note(errors, message))
    yield
    assert errors == []
    assert [text for text in station.received if TRACEBACK in text] == []
    with server.log.open("rb") as log:
        log.seek(before)
        written = log.read().decode("utf-8", "replace")
    assert TRACEBACK not in written, written


def _note(errors: list[str], message: Any) -> None:
    if message.type == "error":
        errors.append(f"{message.text} ({message.location})")

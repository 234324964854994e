"""Scratch pads: what stands beside the lines that somebody writes beside the questions.

Nothing of a lab goes in and nothing is kept: the lines stay in the browser. Whoever's lines took
long to calculate waits as long before the next time, so that pads never take a machine's time from
answers.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict
from time import monotonic
from typing import Final

from anyio import CapacityLimiter
from anyio.to_thread import run_sync
from starlette.responses import JSONResponse, PlainTextResponse, Response

from labkit.language.pad_lines import MAX_LINES, beside_lines

_AT_ONCE: Final = 1
_SHORTEST_S: Final = 0.1


class Pads:
    """Calculates in a thread, one pad after the other; a person's next one when theirs is done."""

    def __init__(self, now: Callable[[], float] = monotonic) -> None:
        self._now = now
        self._limit = CapacityLimiter(_AT_ONCE)
        self._due: dict[str, float] = {}
        """When a person's next lines are taken."""

    async def beside(self, person: str, said: object) -> Response:
        """What stands beside each of the `lines` that a page sends."""
        lines = _lines_in(said)
        if lines is None:
            return PlainTextResponse("That is no pad of this page.", 400)
        begun = self._now()
        if begun < self._due.get(person, begun):
            return PlainTextResponse("One after the other.", 429)
        self._due[person] = float("inf")
        try:
            found = await run_sync(beside_lines, lines, limiter=self._limit)
        finally:
            now = self._now()
            self._due[person] = now + max(_SHORTEST_S, now - begun)
        return JSONResponse([asdict(each) for each in found])


def _lines_in(said: object) -> Sequence[str] | None:
    lines = said.get("lines") if isinstance(said, dict) else None
    if not isinstance(lines, list) or len(lines) > MAX_LINES:
        return None
    return lines if all(isinstance(line, str) for line in lines) else None

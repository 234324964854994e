"""Pauses of labs, as the room's log has them: since when one stands still, what earlier ones took.

A pause moves the end by its length for everybody whose time was not up when it began. Whoever reads
the same log comes to the same second.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Final

PAUSED: Final = "paused"
GONE_ON: Final = "gone on"


@dataclass(frozen=True, slots=True)
class Pause:
    """A pause that goes on: since when, by which trainer, and what they say of it ("": nothing)."""

    since: datetime
    by: str
    sentence: str


@dataclass(slots=True)
class Pauses:
    """`now` has the labs that are paused; `over` when their earlier pauses began and ended.

    `ended` is when a lab last went on, whatever end was set since.
    """

    now: dict[str, Pause] = field(default_factory=dict)
    over: dict[str, list[tuple[datetime, datetime]]] = field(default_factory=dict)
    ended: dict[str, datetime] = field(default_factory=dict)

    def begin(self, lab: str, pause: Pause) -> None:
        """Let a lab stand still; where it does already, the first pause goes on."""
        self.now.setdefault(lab, pause)

    def end(self, lab: str, at: datetime) -> None:
        """Let a lab go on; where it was not paused, nothing changes."""
        pause = self.now.pop(lab, None)
        if pause:
            self.ended[lab] = at
        # A clock that was set back meanwhile takes time from nobody.
        if pause and at > pause.since:
            self.over.setdefault(lab, []).append((pause.since, at))

    def forget(self, lab: str) -> None:
        """An end was set anew: it knows of what was before."""
        self.over.pop(lab, None)

    def moved(self, lab: str, end: datetime) -> datetime:
        """The end of a lab, later by each pause that began before it."""
        for since, until in self.over.get(lab, ()):
            if since < end:
                end += until - since
        return end

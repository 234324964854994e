"""Since when somebody's page shows a workbook, or shows it no more."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

_RELOADED: Final = timedelta(seconds=30)
"""A page that is away no longer was loaded anew, or its network was."""


@dataclass(slots=True)
class _Stay:
    begin: datetime
    end: datetime | None = None


class Presence:
    """Who is at which workbook, by the number of the workbook and whose page it is."""

    def __init__(self) -> None:
        self._stays: dict[tuple[str, str], _Stay] = {}

    def sees(self, here: Collection[tuple[str, str]], now: datetime) -> None:
        """Take in whose pages are open now."""
        for who in here:
            stay = self._stays.get(who)
            if stay is None or (stay.end and now - stay.end > _RELOADED):
                self._stays[who] = _Stay(now)
            else:
                stay.end = None
        for who, stay in self._stays.items():
            if who not in here and stay.end is None:
                stay.end = now

    def here_since(self, workbook: str, person: str, now: datetime) -> datetime | None:
        """Since when a page of theirs is open; None where there is none."""
        stay = self._stays.get((workbook, person))
        if stay is None or (stay.end and now - stay.end > _RELOADED):
            return None
        return stay.begin

    def away_since(self, workbook: str, person: str) -> datetime | None:
        """Since when there is none; None where there never was one, or there is."""
        stay = self._stays.get((workbook, person))
        return stay.end if stay else None

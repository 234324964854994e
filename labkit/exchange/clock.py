"""The clock of this machine, and times as labkit writes them: UTC, to the second."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Any, Final

_FORMAT: Final = "%Y-%m-%dT%H:%M:%SZ"
_WRITTEN: Final = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", re.ASCII)


class Clock:
    """Tells the time. There is one, `CLOCK`: whatever stamps a time asks it, and tests set it."""

    def moment(self) -> datetime:
        """The time in UTC."""
        return datetime.now(UTC)

    def now(self) -> str:
        """The time as labkit writes it."""
        return written(self.moment())


CLOCK: Final = Clock()


def written(moment: datetime) -> str:
    """A time in UTC as labkit writes it: ISO 8601, such as "2026-11-20T16:30:00Z"."""
    return moment.strftime(_FORMAT)


def read_moment(text: Any) -> datetime | None:
    """The time, in UTC, that is written so; None for anything else."""
    if not isinstance(text, str) or not _WRITTEN.fullmatch(text):
        return None
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None

"""How many processes may share some work."""

from __future__ import annotations

from typing import Final

from labkit.classroom.errors import ClassError

MOST_JOBS: Final = 256


def require_jobs(jobs: int) -> None:
    """Raise `ClassError` unless so many processes can be had; -1 is one a core."""
    if jobs == 0 or jobs < -1 or jobs > MOST_JOBS:
        raise ClassError(
            f"{jobs} jobs cannot be had: write 1 to {MOST_JOBS}, or -1 for one a core."
        )

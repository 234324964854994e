"""What is wrong at a trainee's laptop."""

from __future__ import annotations

from labkit.errors import LabkitError


class StationError(LabkitError):
    """A sentence to the trainee that says what is wrong and what to do."""

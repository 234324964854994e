"""What is wrong with a class."""

from __future__ import annotations

from labkit.errors import LabkitError


class ClassError(LabkitError):
    """A sentence to the instructor that says what is wrong, where, and what to do."""

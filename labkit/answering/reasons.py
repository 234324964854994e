"""Why something could not be kept, as a trainee reads it."""

from __future__ import annotations


def why(error: Exception) -> str:
    """The reason in words: of an `OSError` without its number and the file's path."""
    if isinstance(error, OSError) and error.strerror:
        return f"{error.strerror}."
    return str(error)

"""What a trainee reads when something is wrong: a sentence, never a traceback."""

from __future__ import annotations


class StationError(Exception):
    """A sentence that says what is wrong and what to do."""

    def _render_traceback_(self) -> list[str]:
        """What a notebook shows instead of a traceback (IPython asks the exception for it)."""
        return [str(self)]

"""The clock of the machine that a test runs on, showing what the test sets."""

from __future__ import annotations

from datetime import datetime

import pytest

from labkit.exchange.clock import CLOCK, read_moment


class SetClock:
    """Stands still at what it was set to; it goes as ever until it is set."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self._monkeypatch = monkeypatch

    def set(self, text: str) -> None:
        """Show a time, written as labkit writes it."""
        moment = read_moment(text)
        assert moment is not None, text

        def stands() -> datetime:
            return moment

        self._monkeypatch.setattr(CLOCK, "moment", stands)

"""What all actions have."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from labkit.bench.bench import Bench
from labkit.bench.fuses import with_fuses_blown
from labkit.bench.layout import Layout
from labkit.fieldbus.errors import PlanError


class NotDoneError(PlanError):
    """An action that cannot be done now; the sentence is for the trainee."""


@dataclass(frozen=True)
class Action:
    """Base of all actions."""

    kind: ClassVar[str] = ""
    needs_dead: ClassVar[bool] = False
    needs_power: ClassVar[bool] = False

    def do(self, bench: Bench) -> Bench:
        """The bench afterwards, fuses blown that then carry too much. Raises `NotDoneError`, or
        `PlanError` for what is not there."""
        if self.needs_dead and bench.situation.power:
            raise NotDoneError(
                "Not done: the network is live. Switch the supply off, secure it, check that it is "
                "dead; then work on the wiring."
            )
        if self.needs_power and not bench.situation.power:
            raise NotDoneError(
                "Not sent: without power nobody hears it. Let nobody be near what can move; then "
                "switch the power on."
            )
        return with_fuses_blown(self._done(bench))

    def _done(self, bench: Bench) -> Bench:
        raise NotImplementedError

    @property
    def words(self) -> str:
        """The action as a log names it, where it names no conductor: see `words_on`."""
        raise NotImplementedError

    def words_on(self, layout: Layout) -> str:  # noqa: ARG002
        """The action as a log names it."""
        return self.words


@dataclass(frozen=True)
class ConnectorAction(Action):
    connector: str

    def _checked(self, bench: Bench) -> None:
        bench.layout.connector(self.connector)

"""Power, plugs, and the earth at the supply."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar

from labkit.bench.actions.base import Action, ConnectorAction, NotDoneError
from labkit.bench.bench import Bench
from labkit.bench.faults import NotEarthed
from labkit.bench.layout import Layout
from labkit.bench.setup import Setup
from labkit.bench.situation import Situation


def refuse_live_plug(setup: Setup, situation: Situation) -> None:
    """Raise `NotDoneError` where connectors are pulled and put back with the power off only."""
    if situation.power and not setup.live_plugs:
        raise NotDoneError(
            "Not done: the network is live, and plugs are pulled and put back with the power off "
            "only. Switch the supply off, secure it, check that it is dead; then do it."
        )


@dataclass(frozen=True)
class PowerOn(Action):
    """Switch all supplies on."""

    kind: ClassVar[str] = "power on"

    def _done(self, bench: Bench) -> Bench:
        return bench.standing(replace(bench.situation, power=True))

    @property
    def words(self) -> str:
        """As a log names it."""
        return "power on"


@dataclass(frozen=True)
class PowerOff(Action):
    """Switch all supplies off."""

    kind: ClassVar[str] = "power off"

    def _done(self, bench: Bench) -> Bench:
        return bench.standing(replace(bench.situation, power=False))

    @property
    def words(self) -> str:
        """As a log names it."""
        return "power off"


@dataclass(frozen=True)
class Unplug(ConnectorAction):
    """Pull a connector."""

    kind: ClassVar[str] = "unplug"

    def _done(self, bench: Bench) -> Bench:
        self._checked(bench)
        refuse_live_plug(bench.setup, bench.situation)
        out = bench.situation.unplugged | {self.connector}
        return bench.standing(replace(bench.situation, unplugged=out))

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"unplug {self.connector}"


@dataclass(frozen=True)
class Plug(ConnectorAction):
    """Put a connector back."""

    kind: ClassVar[str] = "plug"

    def _done(self, bench: Bench) -> Bench:
        self._checked(bench)
        refuse_live_plug(bench.setup, bench.situation)
        out = bench.situation.unplugged - {self.connector}
        return bench.standing(replace(bench.situation, unplugged=out))

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"plug {self.connector} in again"


@dataclass(frozen=True)
class LiftEarth(Action):
    """Take the earth conductor off at the supply, to look for a second earth."""

    kind: ClassVar[str] = "lift earth"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        return bench.standing(replace(bench.situation, earth_lifted=True))

    def words_on(self, layout: Layout) -> str:
        """As a log names it."""
        return f"lift the earth at {layout.earthed_words}"


@dataclass(frozen=True)
class FitEarth(Action):
    """Earth shield and common at the supply, or at what stands for it."""

    kind: ClassVar[str] = "fit earth"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        rest = [fault for fault in bench.faults if not isinstance(fault, NotEarthed)]
        return bench.with_faults(rest).standing(replace(bench.situation, earth_lifted=False))

    def words_on(self, layout: Layout) -> str:
        """As a log names it."""
        return f"earth shield and {layout.conductors.common.words} at {layout.earthed_words}"

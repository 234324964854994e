"""What families do at devices in one way: a setting put in the place of another, a new device."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from labkit.bench.actions.base import Action
from labkit.bench.bench import Bench
from labkit.bench.faults import AtDevice, Fault


def with_setting(bench: Bench, new: Fault, *, as_planned: bool) -> Bench:
    """The bench with one setting as it is now, which is no fault where it was planned so."""
    rest = {f for f in bench.faults if (type(f), f.place) != (type(new), new.place)}
    return bench.with_faults(rest if as_planned else rest | {new})


@dataclass(frozen=True)
class ReplaceSetDevice(Action):
    """Put a new device in the place of one, and set it as planned."""

    device: str
    kind: ClassVar[str] = "replace device"
    needs_dead: ClassVar[bool] = True
    own: ClassVar[tuple[type[AtDevice], ...]] = ()
    """The kinds of faults that go with the old one."""

    def _done(self, bench: Bench) -> Bench:
        bench.layout.device(self.device)
        return bench.with_faults(
            f for f in bench.faults if not (isinstance(f, self.own) and f.device == self.device)
        )

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"replace {self.device} and set it as planned"

"""How a log of a family's real network is read and held against a plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Protocol

from labkit.doors.family import DeviceOnBench
from labkit.fieldbus.agreement import Line


class Hearing(Protocol):
    """A log that is being read, in pieces of any size."""

    def feed(self, piece: bytes) -> None:
        """The next piece. Raises `PlanError` for what is no log of this form."""

    def end(self) -> None:
        """That was all. Raises `PlanError` where nothing of it is a log."""

    @property
    def remarks(self) -> list[str]:
        """What is to be known of the reading, in sentences."""

    @property
    def so_far(self) -> dict[str, Any]:
        """What was heard by now, as plain JSON; it does not grow with the log."""


class FamilyListening(Protocol):
    """What the part `listening` of a family offers. Plans and what is heard are plain JSON."""

    log: str
    """What a log of this network looks like, in a sentence for whoever drops one."""
    on_can: bool
    """Whether an interface to a CAN bus hears this network live."""

    def planned(
        self,
        plan: Any,
        scanner: str,
        devices: Sequence[DeviceOnBench],
        usual: tuple[int, int],
    ) -> dict[str, Any]:
        """What is expected to be heard of a network. Raises `PlanError`.

        `usual` are the I/O sizes in bytes of every device that `devices` does not name.
        """

    def hearing(self, planned: Mapping[str, Any], *, endless: bool = False) -> Hearing:
        """Begins to read a log, or what comes live (`endless`). Raises `PlanError`."""

    def held_against(self, planned: Mapping[str, Any], heard: Any) -> Sequence[Line]:
        """Line by line what agrees. Raises `PlanError` for what nobody heard."""

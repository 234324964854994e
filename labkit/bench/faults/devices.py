"""Faults that a device of any family can have."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from labkit.bench.faults.base import AtDevice, above_zero


@dataclass(frozen=True)
class Draws(AtDevice):
    """A device that draws `ampere` instead of its planned current."""

    ampere: float
    kind: ClassVar[str] = "draws"

    def __post_init__(self) -> None:
        above_zero(self.ampere, f"The current of {self.device}", "A")

    @property
    def words(self) -> str:
        """Which device, how much."""
        return f"{self.ampere:g} A drawn by {self.device}"


@dataclass(frozen=True)
class DeviceDead(AtDevice):
    """A device whose electronics do nothing."""

    kind: ClassVar[str] = "device dead"

    @property
    def words(self) -> str:
        """Which device."""
        return f"dead electronics in {self.device}"

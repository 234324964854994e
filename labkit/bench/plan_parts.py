"""Parts of a plan for the bench, for a cable that carries no power: one cable, devices on drops."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from labkit.bench.plan import Device


@dataclass(frozen=True, slots=True)
class Pair:
    """The only cable: ohm/m of each conductor, shield and common too (a choice)."""

    signal_loop_data: float
    name: str
    power_loop_data: None = None
    power_resistance: None = None


@dataclass(frozen=True, slots=True)
class Branch:
    """A drop; one without length hangs in the trunk."""

    length: float
    devices: Sequence[Device]
    cable: str
    branches: tuple[Branch, ...] = ()

    @property
    def all_devices(self) -> Sequence[Device]:
        """Its devices."""
        return self.devices


@dataclass(frozen=True, slots=True)
class Joint:
    """A tap with its drops."""

    position: float
    name: str
    cable_drops: tuple[Branch, ...]

    @property
    def drop(self) -> Branch:
        """All that hangs there, as one."""
        devices = tuple(device for each in self.cable_drops for device in each.devices)
        return Branch(0.0, devices, self.cable_drops[0].cable if self.cable_drops else "")


@dataclass(frozen=True, slots=True)
class End:
    """A terminator."""

    position: float

"""How the devices of a network family are set by switches, and how these are mistaken."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Protocol

Mistaken = Iterator[tuple[str, str]]
"""Known mistakes (slips), each with the digits that it leads to; some may be what is right."""


@dataclass(frozen=True, slots=True)
class SwitchRow:
    """The switches of a device in a row: first so many of the node address, then of the data rate.

    A setting of them is text, a digit a switch: 0 (off) and 1 of slides, 0 to 9 of dials, or 0 to F
    where a dial has 16 places.
    """

    slides: bool
    address: int
    rate: int
    places: int = 10
    """Of each dial: 10 or 16."""

    @property
    def positions(self) -> int:
        """How many switches there are."""
        return self.address + self.rate


class FamilySwitches(Protocol):
    """What the part `switches` of a family offers.

    `device` is one of `devices`; rates are in kbit/s.
    """

    devices: Mapping[str, SwitchRow]
    """By the word that a lab's author writes, the usual one first."""
    rates: tuple[float, ...]
    as_it_came: tuple[int, float]
    """Node address and data rate that a new device is set to."""
    tells: Mapping[str, str]
    """Of each known mistake what a trainee is told."""

    def rate_words(self, rate: float) -> str:
        """A data rate as the family's people say it: "125 kbit/s", "9600 bit/s"."""

    def tell(self, device: str, slip: str) -> str:
        """What a trainee is told of a mistake at this device."""

    def setting(self, device: str, address: int, rate: float) -> str:
        """The setting for a node address and a data rate. Raises `PlanError`."""

    def address(self, device: str, setting: str) -> int:
        """The node address that the device reads from any setting. Raises `PlanError`."""

    def rate(self, device: str, setting: str) -> float:
        """The data rate that the device reads from any setting. Raises `PlanError`."""

    def misread_addresses(self, device: str, setting: str) -> Iterator[tuple[str, int]]:
        """Known mistakes in reading the address."""

    def misread_rates(self, device: str, setting: str) -> Iterator[tuple[str, float]]:
        """Known mistakes in reading the data rate."""

    def mistaken_settings(self, device: str, address: int, rate: float) -> Mistaken:
        """Known mistakes that spoil all digits of a setting."""

    def mistaken_addresses(self, device: str, address: int, rate: float) -> Mistaken:
        """Known mistakes in setting the address: its digits."""

    def mistaken_rates(self, device: str, address: int, rate: float) -> Mistaken:
        """Known mistakes in setting the data rate: its digits."""

"""What all faults have, and the places that they can be at."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from labkit.bench.layout import LEFT_END, RIGHT_END, Layout
from labkit.fieldbus.errors import PlanError


@dataclass(frozen=True)
class Fault:
    """Base of all faults."""

    kind: ClassVar[str] = ""
    wired: ClassVar[bool] = True
    """False of what leaves every voltage on the bench as it is."""

    @property
    def place(self) -> str:
        """What a technician would point at."""
        raise NotImplementedError

    @property
    def words(self) -> str:
        """The fault in a sentence without a full stop, where it needs nothing of the bench to be
        told: see `words_on`."""
        raise NotImplementedError

    def words_on(self, layout: Layout) -> str:  # noqa: ARG002
        """The fault in a sentence without a full stop."""
        return self.words

    def check(self, layout: Layout) -> None:
        """Raise `PlanError` when the fault cannot be on this bench."""
        raise NotImplementedError


@dataclass(frozen=True)
class AtConnector(Fault):
    """A fault at a connector."""

    connector: str

    @property
    def place(self) -> str:
        """The connector."""
        return self.connector

    def check(self, layout: Layout) -> None:
        """The connector must be there."""
        layout.connector(self.connector)


@dataclass(frozen=True)
class AtSupply(Fault):
    """A fault of a supply."""

    supply: str

    @property
    def place(self) -> str:
        """The supply."""
        return self.supply

    def check(self, layout: Layout) -> None:
        """The supply must be there."""
        layout.supply(self.supply)


@dataclass(frozen=True)
class AtPiece(Fault):
    """A fault of a piece of cable."""

    piece: str

    @property
    def place(self) -> str:
        """The piece of cable."""
        return self.piece

    def check(self, layout: Layout) -> None:
        """The piece must be there, and be a cable."""
        if not layout.piece(self.piece).runs:
            raise PlanError(f"{self.piece} is plugged without cable, so its cable cannot be wrong.")


@dataclass(frozen=True)
class AtDevice(Fault):
    """A fault of a device."""

    device: str

    @property
    def place(self) -> str:
        """The device."""
        return self.device

    def check(self, layout: Layout) -> None:
        """The device must be there."""
        layout.device(self.device)


def an_end(end: str) -> None:
    if end not in (LEFT_END, RIGHT_END):
        raise PlanError(f"{end!r} is no end of the trunk; say {LEFT_END!r} or {RIGHT_END!r}.")


def above_zero(value: float, what: str, unit: str) -> None:
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value < 1e12:
        raise PlanError(f"{what} is {value!r} {unit}; give a number above 0.")

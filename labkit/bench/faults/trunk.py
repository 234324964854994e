"""Faults of the trunk: its ends, its earth, its cable."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from labkit.bench.faults.base import AtPiece, Fault, above_zero, an_end
from labkit.bench.layout import Layout
from labkit.fieldbus.errors import PlanError


@dataclass(frozen=True)
class NotEarthed(Fault):
    """Shield and common are not earthed at the supply, or at what stands for it."""

    kind: ClassVar[str] = "not earthed"

    @property
    def place(self) -> str:
        """The supply's earth."""
        return "earth at the supply"

    def words_on(self, layout: Layout) -> str:
        """What is missing."""
        common = layout.conductors.common.words
        return f"shield and {common} are not earthed at {layout.earthed_words}"

    def check(self, layout: Layout) -> None:
        """Can be on every bench."""


@dataclass(frozen=True)
class TerminatorMissing(Fault):
    """No terminator at an end of the trunk ("left end" or "right end")."""

    end: str
    kind: ClassVar[str] = "terminator missing"

    def __post_init__(self) -> None:
        an_end(self.end)

    @property
    def place(self) -> str:
        """The end."""
        return self.end

    @property
    def words(self) -> str:
        """Where it is missing."""
        return f"no terminator at the {self.end}"

    def check(self, layout: Layout) -> None:
        """Every bench has two ends."""


@dataclass(frozen=True)
class TerminatorValue(Fault):
    """A terminator of another value at an end of the trunk, ohm."""

    end: str
    ohm: float
    kind: ClassVar[str] = "terminator value"

    def __post_init__(self) -> None:
        an_end(self.end)
        above_zero(self.ohm, f"The terminator at the {self.end}", "ohm")

    @property
    def place(self) -> str:
        """The end."""
        return self.end

    @property
    def words(self) -> str:
        """Where, and which value."""
        return f"a terminator of {self.ohm:g} Ω at the {self.end}"

    def check(self, layout: Layout) -> None:
        """Every bench has two ends."""


@dataclass(frozen=True)
class WrongCable(AtPiece):
    """A piece laid in another cable type."""

    cable: str
    kind: ClassVar[str] = "wrong cable"

    @property
    def words(self) -> str:
        """Which piece, which cable."""
        return f"{self.cable} cable in {self.piece}"

    def check(self, layout: Layout) -> None:
        """The piece must be there, and the resistance of both kinds of conductor known."""
        AtPiece.check(self, layout)
        cable = layout.plan.cable(self.cable)
        if cable.power_resistance is None and None in (
            cable.power_loop_data,
            cable.signal_loop_data,
        ):
            raise PlanError(
                f"No resistance of {self.cable} cable is known here, so no meter could read "
                f"{self.piece}: name another cable, or let the plan state its data sheet."
            )


@dataclass(frozen=True)
class TooLong(AtPiece):
    """A piece that is `metres` long instead of what was planned."""

    metres: float
    kind: ClassVar[str] = "too long"

    def __post_init__(self) -> None:
        above_zero(self.metres, f"The length of {self.piece}", "m")

    @property
    def words(self) -> str:
        """Which piece, how long."""
        return f"{self.metres:g} m of cable in {self.piece}"

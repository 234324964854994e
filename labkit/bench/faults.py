"""What can differ between a network as built and as planned: one frozen value a fault.

A fault says what is wrong and where, never how it shows: symptoms are computed. Every fault has
`kind` (its name in JSON and for marking), `place` (what a technician would point at) and `words`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar, Final

from labkit.bench.conductors import WIRES, Wire
from labkit.bench.layout import LEFT_END, RIGHT_END, Layout
from labkit.fieldbus.devicenet.cable import cable_type, data_rate
from labkit.fieldbus.devicenet.scanlist import ScanEntry
from labkit.fieldbus.errors import PlanError

IN_ORDER: Final = (1, 2, 3, 4, 5)
"""Terminals of V-, CAN_L, drain, CAN_H, V+ as they should be landed."""
NOT_LANDED: Final = 0


@dataclass(frozen=True)
class Fault:
    """Base of all faults."""

    kind: ClassVar[str] = ""

    @property
    def place(self) -> str:
        """What a technician would point at."""
        raise NotImplementedError

    @property
    def words(self) -> str:
        """The fault in a sentence without a full stop."""
        raise NotImplementedError

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
class Landed(AtConnector):
    """Conductors on other terminals than their own, or on none.

    `terminals`: for V-, CAN_L, drain, CAN_H, V+ in this order, the terminal 1 to 5 that the
    conductor is landed on, 0 for none. It can be seen when the connector is opened.
    """

    terminals: tuple[int, int, int, int, int]
    kind: ClassVar[str] = "landed"

    def __post_init__(self) -> None:
        object.__setattr__(self, "terminals", tuple(self.terminals))
        fit = len(self.terminals) == 5 and all(
            type(t) is int and 0 <= t <= 5 for t in self.terminals
        )
        if not fit:
            raise PlanError(
                f"{self.terminals!r} does not say where five conductors are landed; give a "
                "terminal 1 to 5, or 0 for none, for V-, CAN_L, drain, CAN_H and V+."
            )
        if self.terminals == IN_ORDER:
            raise PlanError(
                f"At {self.connector} every conductor is on its own terminal: no fault."
            )

    @property
    def words(self) -> str:
        """Each conductor that is astray."""
        astray = [
            f"{wire.label} on no terminal" if t == NOT_LANDED else f"{wire.label} on terminal {t}"
            for wire, t in zip(WIRES, self.terminals, strict=True)
            if t != wire.terminal
        ]
        return f"{' and '.join(astray)} at {self.connector}"


def swapped(connector: str, a: Wire, b: Wire) -> Landed:
    """Two conductors exchanged at a connector."""
    if a is b:
        raise PlanError(
            f"At {connector} {a.label} cannot be swapped with itself; name two conductors."
        )
    other = {a: b.terminal, b: a.terminal}
    first, second, third, fourth, fifth = (other.get(wire, wire.terminal) for wire in WIRES)
    return Landed(connector, (first, second, third, fourth, fifth))


@dataclass(frozen=True)
class Broken(AtConnector):
    """A conductor broken at a connector, inside its sleeve: nothing to be seen."""

    wire: Wire
    kind: ClassVar[str] = "broken"

    @property
    def words(self) -> str:
        """Which conductor, where."""
        return f"{self.wire.label} open at {self.connector}"


@dataclass(frozen=True)
class Loose(AtConnector):
    """A conductor that loses contact now and then: open for `open_s` in every `every_s` seconds.

    An even rhythm is a simplification: a real one follows vibration and heat. Steps at the bench
    take whole minutes as a rule, so a rhythm that a minute is a multiple of is never seen open.
    """

    wire: Wire
    every_s: float = 7.0
    open_s: float = 1.5
    kind: ClassVar[str] = "loose"

    def __post_init__(self) -> None:
        if not 0 < self.open_s < self.every_s:
            raise PlanError(
                f"A loose contact is open for a part of its rhythm, not {self.open_s!r} s of "
                f"{self.every_s!r} s."
            )

    @property
    def words(self) -> str:
        """Which conductor, where."""
        return f"{self.wire.label} makes contact only now and then at {self.connector}"


@dataclass(frozen=True)
class Touching(AtConnector):
    """Two conductors that touch at a connector."""

    a: Wire
    b: Wire
    kind: ClassVar[str] = "touching"

    def __post_init__(self) -> None:
        if self.a is self.b:
            raise PlanError(f"{self.a.label} cannot touch itself; name two conductors.")
        first, second = sorted((self.a, self.b), key=lambda wire: wire.terminal)
        object.__setattr__(self, "a", first)
        object.__setattr__(self, "b", second)

    @property
    def words(self) -> str:
        """Which two, where."""
        return f"{self.a.label} and {self.b.label} shorted at {self.connector}"


@dataclass(frozen=True)
class Corroded(AtConnector):
    """A contact with `ohm` too much resistance."""

    wire: Wire
    ohm: float
    kind: ClassVar[str] = "corroded"

    def __post_init__(self) -> None:
        _above_zero(self.ohm, f"The resistance of the corroded contact at {self.connector}", "ohm")

    @property
    def words(self) -> str:
        """Which contact, how bad."""
        return f"corroded contact of {self.wire.label} at {self.connector} ({self.ohm:g} Ω)"


@dataclass(frozen=True)
class Earthed(AtConnector):
    """A conductor that touches earth at a connector; of the drain: a second earth on the shield."""

    wire: Wire = Wire.DRAIN
    kind: ClassVar[str] = "earthed"

    @property
    def words(self) -> str:
        """Which conductor, where."""
        what = "the shield" if self.wire is Wire.DRAIN else self.wire.label
        return f"{what} touches earth at {self.connector}"


@dataclass(frozen=True)
class NotEarthed(Fault):
    """Shield and V- are not earthed at the supply."""

    kind: ClassVar[str] = "not earthed"

    @property
    def place(self) -> str:
        """The supply's earth."""
        return "earth at the supply"

    @property
    def words(self) -> str:
        """What is missing."""
        return "shield and V- are not earthed at the supply"

    def check(self, layout: Layout) -> None:
        """Can be on every bench."""


@dataclass(frozen=True)
class TerminatorMissing(Fault):
    """No terminator at an end of the trunk ("left end" or "right end")."""

    end: str
    kind: ClassVar[str] = "terminator missing"

    def __post_init__(self) -> None:
        _an_end(self.end)

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
        _an_end(self.end)
        _above_zero(self.ohm, f"The terminator at the {self.end}", "ohm")

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
class TerminatorExtra(AtConnector):
    """One more terminator of 121 ohm, at a connector where none belongs."""

    kind: ClassVar[str] = "terminator extra"

    @property
    def words(self) -> str:
        """Where it is."""
        return f"one terminator too many, at {self.connector}"


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
class SupplyReversed(AtSupply):
    """V+ and V- exchanged at the supply."""

    kind: ClassVar[str] = "supply reversed"

    @property
    def words(self) -> str:
        """Which supply."""
        return f"V+ and V- exchanged at {self.supply}"


@dataclass(frozen=True)
class SupplyDead(AtSupply):
    """A supply that gives nothing."""

    kind: ClassVar[str] = "supply dead"

    @property
    def words(self) -> str:
        """Which supply."""
        return f"{self.supply} gives no voltage"


@dataclass(frozen=True)
class SupplyWeak(AtSupply):
    """A supply that cannot give more than `ampere`, though its plate says so."""

    ampere: float
    kind: ClassVar[str] = "supply weak"

    def __post_init__(self) -> None:
        _above_zero(self.ampere, f"The current of {self.supply}", "A")

    @property
    def words(self) -> str:
        """Which supply, how weak."""
        return f"{self.supply} gives no more than {self.ampere:g} A"


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
class WrongCable(AtPiece):
    """A piece laid in another cable type."""

    cable: str
    kind: ClassVar[str] = "wrong cable"

    def __post_init__(self) -> None:
        values = cable_type(self.cable)
        if values.power_loop_data is None and values.power_resistance is None:
            raise PlanError(
                f"No resistance of {self.cable} cable is known here, so no meter could read "
                f"{self.piece}: name another cable."
            )

    @property
    def words(self) -> str:
        """Which piece, which cable."""
        return f"{self.cable} cable in {self.piece}"


@dataclass(frozen=True)
class TooLong(AtPiece):
    """A piece that is `metres` long instead of what was planned."""

    metres: float
    kind: ClassVar[str] = "too long"

    def __post_init__(self) -> None:
        _above_zero(self.metres, f"The length of {self.piece}", "m")

    @property
    def words(self) -> str:
        """Which piece, how long."""
        return f"{self.metres:g} m of cable in {self.piece}"


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


@dataclass(frozen=True)
class Draws(AtDevice):
    """A device that draws `ampere` instead of its planned current."""

    ampere: float
    kind: ClassVar[str] = "draws"

    def __post_init__(self) -> None:
        _above_zero(self.ampere, f"The current of {self.device}", "A")

    @property
    def words(self) -> str:
        """Which device, how much."""
        return f"{self.device} draws {self.ampere:g} A"


@dataclass(frozen=True)
class AddressSet(AtDevice):
    """A device set to another node address than planned."""

    address: int
    kind: ClassVar[str] = "address set"

    def __post_init__(self) -> None:
        if type(self.address) is not int or not 0 <= self.address <= 63:
            raise PlanError(
                f"{self.device} cannot be set to node address {self.address!r}; 0 to 63."
            )

    @property
    def words(self) -> str:
        """Which device, which address."""
        return f"{self.device} is set to node address {self.address}"


@dataclass(frozen=True)
class RateSet(AtDevice):
    """A device set to another data rate than the network's, kbit/s."""

    rate: int
    kind: ClassVar[str] = "rate set"

    def __post_init__(self) -> None:
        data_rate(self.rate)

    @property
    def words(self) -> str:
        """Which device, which rate."""
        return f"{self.device} is set to {self.rate} kbit/s"


@dataclass(frozen=True)
class DeviceDead(AtDevice):
    """A device whose electronics do nothing."""

    kind: ClassVar[str] = "device dead"

    @property
    def words(self) -> str:
        """Which device."""
        return f"{self.device} is dead"


@dataclass(frozen=True)
class Babbling(AtDevice):
    """A device that sends one frame after another without being asked."""

    kind: ClassVar[str] = "babbling"

    @property
    def words(self) -> str:
        """Which device."""
        return f"{self.device} sends without end"


@dataclass(frozen=True)
class IoSizes(AtDevice):
    """A device of another I/O size than planned, bytes."""

    input_bytes: int
    output_bytes: int
    kind: ClassVar[str] = "I/O sizes"

    @property
    def words(self) -> str:
        """Which device, which sizes."""
        return f"{self.device} has {self.input_bytes} input and {self.output_bytes} output bytes"


@dataclass(frozen=True)
class ScanListAs(Fault):
    """The scanner holds another scan list than planned."""

    entries: tuple[ScanEntry, ...]
    kind: ClassVar[str] = "scan list"

    def __post_init__(self) -> None:
        object.__setattr__(self, "entries", tuple(self.entries))

    @property
    def place(self) -> str:
        """The scanner's memory."""
        return "scan list"

    @property
    def words(self) -> str:
        """What the list says."""
        listed = ", ".join(str(entry.address) for entry in self.entries) or "nobody"
        return f"the scan list in the scanner is another one (nodes {listed})"

    def check(self, layout: Layout) -> None:
        """Can be on every bench with a scanner."""


KINDS: Final[dict[str, type[Fault]]] = {
    kind.kind: kind
    for kind in (
        Landed, Broken, Loose, Touching, Corroded, Earthed, NotEarthed, TerminatorMissing,
        TerminatorValue, TerminatorExtra, SupplyReversed, SupplyDead, SupplyWeak, WrongCable,
        TooLong, Draws, AddressSet, RateSet, DeviceDead, Babbling, IoSizes, ScanListAs,
    )
}  # fmt: skip
"""Every kind of fault by its name."""


def checked(faults: Iterable[Fault], layout: Layout) -> frozenset[Fault]:
    """The faults, held against the bench and against each other; raises `PlanError`."""
    found = frozenset(faults)
    taken: dict[tuple[type[Fault], str], Fault] = {}
    for fault in found:
        if not isinstance(fault, Fault):
            raise PlanError(f"{fault!r} is no fault; use the classes of labkit.bench.faults.")
        fault.check(layout)
        if isinstance(fault, AtConnector) and not isinstance(fault, Landed | TerminatorExtra):
            continue
        other = taken.setdefault((type(fault), fault.place), fault)
        if other is not fault:
            raise PlanError(f"Both cannot be: {other.words}, and {fault.words}.")
    return found


def _an_end(end: str) -> None:
    if end not in (LEFT_END, RIGHT_END):
        raise PlanError(f"{end!r} is no end of the trunk; say {LEFT_END!r} or {RIGHT_END!r}.")


def _above_zero(value: float, what: str, unit: str) -> None:
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value < 1e12:
        raise PlanError(f"{what} is {value!r} {unit}; give a number above 0.")

"""A two-wire bus line as laid: pieces of cable in a tree, terminators, and transceivers.

Voltages are differential (CAN_H above CAN_L). A piece between two points has a characteristic
impedance Z, a delay per metre and the resistance of both conductors; a drop is a piece that
ends at its device. Skin effect and dielectric loss are left out.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from labkit.fieldbus.checked import number, text
from labkit.fieldbus.errors import PlanError

LIGHT_S_PER_M = 1 / 299_792_458
"""No signal is quicker than light in vacuum (exact by the SI definition of the metre)."""
MOST_METRES = 10_000.0
"""More than any published bus length (CiA 301 ends at 5 km for 10 kbit/s)."""


@dataclass(frozen=True, slots=True)
class LinePiece:
    """`metres` of cable between points `a` and `b`.

    The defaults are the DeviceNet cable's 120 Ω and 4.46 ns/m (ODVA, *Planning and Installation
    Manual, DeviceNet Cable System*, PUB00027R1). `ohm_per_m` is of both signal conductors
    together: thick cable 0.0452 Ω/m, thin 0.1838 Ω/m from the same source.
    """

    name: str
    a: str
    b: str
    metres: float
    impedance_ohm: float = 120.0
    delay_s_per_m: float = 4.46e-9
    ohm_per_m: float = 0.0

    def __post_init__(self) -> None:
        owner = ("line piece", text(self.name, "the name of a line piece"))
        text(self.a, "the first end", of=owner)
        text(self.b, "the second end", of=owner)
        if self.a == self.b:
            raise PlanError(
                f"Line piece {self.name!r} has both ends at {self.a!r}; lead it to another point."
            )
        number(self.metres, "the length", "m", 1e-3, MOST_METRES, of=owner)
        number(self.impedance_ohm, "the impedance", "ohm", 1.0, 1000.0, of=owner)
        number(self.delay_s_per_m, "the delay", "s/m", LIGHT_S_PER_M, 1e-7, of=owner)
        number(self.ohm_per_m, "the resistance", "ohm/m", 0.0, 100.0, of=owner)

    @property
    def delay_s(self) -> float:
        """How long an edge takes from one end to the other, s."""
        return self.metres * self.delay_s_per_m

    @property
    def ohm(self) -> float:
        """The resistance of both conductors of the piece, ohm."""
        return self.metres * self.ohm_per_m


@dataclass(frozen=True, slots=True)
class Terminator:
    """A resistor of `ohm` between the two wires at a point."""

    name: str
    at: str
    ohm: float = 121.0

    def __post_init__(self) -> None:
        owner = ("terminator", text(self.name, "the name of a terminator"))
        text(self.at, "the point", of=owner)
        number(self.ohm, "the resistance", "ohm", 0.01, 1e9, of=owner)


@dataclass(frozen=True, slots=True)
class Transceiver:
    """A device's bus driver and receiver at a point.

    Dominant, it is a source of `dominant_volt` behind `output_ohm`: the defaults give 2.0 V, the
    nominal level of ISO 11898-2, on the usual 60 Ω; how 2.0 V divides between the two is a
    choice, no source. Recessive, it lets go and the terminators discharge the bus. Between the
    two its output conductance changes evenly within `edge_s` (a model, no source). Input
    resistance and capacitance are ordinary values of a receiver (from memory, no source).
    """

    name: str
    at: str
    dominant_volt: float = 3.0
    output_ohm: float = 30.0
    edge_s: float = 50e-9
    input_ohm: float = 30_000.0
    input_farad: float = 20e-12

    def __post_init__(self) -> None:
        owner = ("transceiver", text(self.name, "the name of a transceiver"))
        text(self.at, "the point", of=owner)
        number(self.dominant_volt, "the dominant voltage", "V", 0.1, 100.0, of=owner)
        number(self.output_ohm, "the output resistance", "ohm", 0.1, 1e6, of=owner)
        number(self.edge_s, "the edge time", "s", 1e-9, 1e-3, of=owner)
        number(self.input_ohm, "the input resistance", "ohm", 10.0, 1e12, of=owner)
        number(self.input_farad, "the input capacitance", "F", 0.0, 1e-6, of=owner)


@dataclass(frozen=True)
class LineTopology:
    """The line of one bus: a tree of pieces with what is connected to its points.

    Raises PlanError when it is empty, has a ring or a loose part, names a point that no piece
    touches, or gives two things of a kind one name.
    """

    pieces: tuple[LinePiece, ...]
    terminators: tuple[Terminator, ...] = ()
    transceivers: tuple[Transceiver, ...] = ()
    points: tuple[str, ...] = field(init=False, compare=False, repr=False)

    def __init__(
        self,
        pieces: Iterable[LinePiece],
        terminators: Iterable[Terminator] = (),
        transceivers: Iterable[Transceiver] = (),
    ) -> None:
        object.__setattr__(self, "pieces", tuple(pieces))
        object.__setattr__(self, "terminators", tuple(terminators))
        object.__setattr__(self, "transceivers", tuple(transceivers))
        _check_kinds(self.pieces, LinePiece)
        _check_kinds(self.terminators, Terminator)
        _check_kinds(self.transceivers, Transceiver)
        if not self.pieces:
            raise PlanError("The line has no piece of cable; lay at least one.")
        object.__setattr__(self, "points", self._walk())
        placed: list[Terminator | Transceiver] = [*self.terminators, *self.transceivers]
        for thing in placed:
            if thing.at not in self.points:
                raise PlanError(
                    f"{thing.name!r} is at {thing.at!r}, but no piece of cable ends there; "
                    "lead a piece to that point or correct its name."
                )

    def transceiver(self, name: str) -> Transceiver:
        """The transceiver of that name; raises PlanError."""
        for transceiver in self.transceivers:
            if transceiver.name == name:
                return transceiver
        raise PlanError(f"No transceiver is named {name!r} on this line; check the name.")

    def delays(self, start: str) -> dict[str, float]:
        """How long an edge takes from `start` to every point, s; raises PlanError."""
        if start not in self.points:
            raise PlanError(f"No piece of cable ends at {start!r}; check the point's name.")
        at = _ends(self.pieces)
        found = {start: 0.0}
        queue = [start]
        for point in queue:
            for piece in at[point]:
                other = piece.b if piece.a == point else piece.a
                if other not in found:
                    found[other] = found[point] + piece.delay_s
                    queue.append(other)
        return found

    def _walk(self) -> tuple[str, ...]:
        points = tuple(dict.fromkeys(end for piece in self.pieces for end in (piece.a, piece.b)))
        object.__setattr__(self, "points", points)
        reached = self.delays(points[0])
        loose = [point for point in points if point not in reached]
        if loose:
            raise PlanError(
                f"Point {loose[0]!r} has no way to {points[0]!r}: the line is in two parts; join "
                "them, or look at each part as a line of its own."
            )
        if len(self.pieces) != len(points) - 1:
            raise PlanError(
                f"The line has a ring: {len(self.pieces)} pieces join {len(points)} points; a bus "
                "is a trunk with drops, so take one piece of the ring away."
            )
        return points


def _ends(pieces: Iterable[LinePiece]) -> dict[str, list[LinePiece]]:
    at: dict[str, list[LinePiece]] = {}
    for piece in pieces:
        at.setdefault(piece.a, []).append(piece)
        at.setdefault(piece.b, []).append(piece)
    return at


def _check_kinds(
    things: tuple[LinePiece | Terminator | Transceiver, ...], kind: type[object]
) -> None:
    names: set[str] = set()
    for thing in things:
        if not isinstance(thing, kind):
            raise PlanError(f"A line needs a {kind.__name__} here, but got {thing!r}.")
        if thing.name in names:
            raise PlanError(
                f"Two {kind.__name__} entries are named {thing.name!r}; give each its own name."
            )
        names.add(thing.name)

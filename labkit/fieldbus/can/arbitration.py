"""Who wins the bus when several nodes start a frame in the same bit time, bit by bit.

The bus is a wired AND: one dominant (0) sender makes it dominant. A node that sends recessive and
reads dominant withdraws inside the arbitration field; behind it the same thing is a bit error.
Source: ISO 11898-1.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from labkit.fieldbus import checked
from labkit.fieldbus.can.bits import RECESSIVE
from labkit.fieldbus.can.frame import BASE_IDENTIFIER_BITS, EXTENDED_IDENTIFIER_BITS, Frame
from labkit.fieldbus.can.wire import ARBITRATION_FIELDS, Field, WireBit, encode
from labkit.fieldbus.errors import PlanError

_IDENTIFIER_FIELDS = (Field.IDENTIFIER, Field.EXTENDED_IDENTIFIER)


@dataclass(frozen=True, slots=True)
class Dropout:
    """A contender that sent recessive, read dominant and withdrew.

    `bit` counts on the wire from start of frame = 0, stuff bits included. `identifier_bit` is the
    number of the identifier bit (10 or 28 is sent first, 0 last), None in RTR, SRR and IDE.
    """

    name: str
    bit: int
    field: Field
    identifier_bit: int | None

    @property
    def sentence(self) -> str:
        """What happened, for the trainee's picture."""
        place = (
            f"the {self.field} bit"
            if self.identifier_bit is None
            else f"identifier bit {self.identifier_bit}"
        )
        return (
            f"{self.name} drops out at bit {self.bit}, {place}: it sends recessive, reads dominant "
            "and becomes a receiver."
        )


@dataclass(frozen=True, slots=True)
class Collision:
    """Two winners of one arbitration that differ further on: a bit error for some of them.

    `names` are those that sent recessive and read dominant.
    """

    names: tuple[str, ...]
    bit: int
    field: Field

    @property
    def sentence(self) -> str:
        """What happened and what follows."""
        return (
            f"{', '.join(self.names)}: bit error at bit {self.bit}, in the {self.field} field, "
            "where nobody may withdraw any more. An error flag ends the frame for all senders of "
            "this identifier, each counts 8 transmit errors, and all try again at the same time."
        )


@dataclass(frozen=True, slots=True)
class Arbitration:
    """The outcome of one simultaneous start.

    `bus` are the levels on the bus, up to the end of frame or to the collision, both included.
    `sent` pairs each contender with the bits that it sent itself, its last one included.
    `winners` has one name; more when frames do not differ in the arbitration field.
    """

    bus: tuple[int, ...]
    sent: tuple[tuple[str, tuple[int, ...]], ...]
    dropouts: tuple[Dropout, ...]
    winners: tuple[str, ...]
    collision: Collision | None

    @property
    def winner(self) -> str | None:
        """The node whose frame goes through alone, None if several sent to the end or collided."""
        return self.winners[0] if len(self.winners) == 1 else None

    @property
    def sentences(self) -> tuple[str, ...]:
        """The course of events, one sentence each."""
        lines = [dropout.sentence for dropout in self.dropouts]
        if self.collision:
            return (*lines, self.collision.sentence)
        if self.winner:
            return (*lines, f"{self.winner} wins and does not notice that others tried.")
        alike = " and ".join(self.winners)
        return (
            *lines,
            f"{alike} send the same frame bit for bit: nobody notices, one is received.",
        )


def arbitrate(contenders: Mapping[str, Frame]) -> Arbitration:
    """Run the arbitration between frames that start in the same bit time.

    `contenders` maps the name of each node to its frame. A frame whose identifier is used by two
    nodes is followed into its control and data field, up to the first difference, which is a
    collision. Raises `PlanError` if there is no contender.

        >>> arbitrate({"A": Frame(0x100), "B": Frame(0x0FF)}).winner
        'B'
    """
    _check(contenders)
    wires = {name: encode(frame).bits for name, frame in contenders.items()}
    active = list(wires)
    bus: list[int] = []
    sent: dict[str, list[int]] = {name: [] for name in wires}
    dropouts: list[Dropout] = []
    collision: Collision | None = None
    while collision is None and len(bus) < len(wires[active[0]]):
        place = len(bus)
        now = {name: wires[name][place] for name in active}
        level = min(bit.level for bit in now.values())
        bus.append(level)
        for name, bit in now.items():
            sent[name].append(bit.level)
        losers = [name for name, bit in now.items() if bit.level != level]
        if not losers:
            continue
        if now[losers[0]].field not in ARBITRATION_FIELDS:
            collision = Collision(tuple(losers), place, now[losers[0]].field)
            continue
        dropouts += [_dropout(name, contenders[name], wires[name], place) for name in losers]
        active = [name for name in active if name not in losers]
    return Arbitration(
        bus=tuple(bus),
        sent=tuple((name, tuple(bits)) for name, bits in sent.items()),
        dropouts=tuple(dropouts),
        winners=tuple(active),
        collision=collision,
    )


def _check(contenders: Mapping[str, Frame]) -> None:
    if not isinstance(contenders, Mapping) or not contenders:
        raise PlanError("Nobody wants the bus: give at least one node with its frame.")
    for node, frame in contenders.items():
        checked.text(node, "The name of a contender")
        if not isinstance(frame, Frame):
            raise PlanError(f"{node} sends {frame!r}: give it a Frame.")


def _dropout(name: str, frame: Frame, wire: tuple[WireBit, ...], place: int) -> Dropout:
    # Up to its first difference a frame has the same stuff bits as the winner's, so what a node
    # loses on is never a stuff bit.
    field = wire[place].field
    if field not in _IDENTIFIER_FIELDS:
        return Dropout(name, place, field, None)
    sent = [bit for bit in wire[: place + 1] if bit.field in _IDENTIFIER_FIELDS and not bit.stuff]
    width = EXTENDED_IDENTIFIER_BITS if frame.extended else BASE_IDENTIFIER_BITS
    return Dropout(name, place, field, width - len(sent))


def same_arbitration_field(first: Frame, second: Frame) -> bool:
    """Whether arbitration cannot tell the two frames apart: same identifier, format and RTR."""
    return first.priority == second.priority


def recessive_sender(first: Frame, second: Frame) -> int | None:
    """Return which of two frames (0 or 1) sends the recessive bit where they first differ.

    That sender sees the bit error. None when the frames are alike bit for bit.
    """
    pairs = zip(encode(first).levels, encode(second).levels, strict=False)
    for one, other in pairs:
        if one != other:
            return 0 if one == RECESSIVE else 1
    return None

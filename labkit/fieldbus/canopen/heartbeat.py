"""Is a node still there? Heartbeat, which it sends by itself, and guarding, which it is asked for.

Source: CiA 301 as in several public device manuals. A node does one of the two. One byte on
0x700 + node-ID holds its state in bits 6 to 0; bit 7 toggles from one guarding reply to the next
and stays 0 in a heartbeat. Times in ms.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final, Self

from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.canopen.identifiers import CobId, CommunicationObject
from labkit.fieldbus.canopen.nmt import NmtState
from labkit.fieldbus.canopen.node_ids import node_id
from labkit.fieldbus.checked import byte_string, flag, number, whole
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.result import RuleResult

TOGGLE_BIT: Final = 0x80
LONGEST_MS: Final = 0xFFFF
"""16 bits hold a heartbeat or guard time (objects 0x1016, 0x1017 and 0x100C, CiA 301)."""
SOURCE: Final = "CiA 301 (from memory)"


@dataclass(frozen=True, slots=True)
class StateByte:
    """What the byte says: a state, and the toggle bit of guarding."""

    state: NmtState
    toggle: bool = False

    @classmethod
    def from_bytes(cls, data: bytes) -> Self:
        """The byte read; `PlanError` for another length or a state that CiA 301 does not have."""
        value = byte_string(data, "heartbeat or guarding reply", 1, 1)[0]
        state = value & ~TOGGLE_BIT
        if state not in list(NmtState):
            raise PlanError(f"State {state} is not one of CiA 301: 0, 4, 5 or 127.")
        return cls(NmtState(state), bool(value & TOGGLE_BIT))

    def to_bytes(self) -> bytes:
        """The one byte."""
        return bytes([self.state | (TOGGLE_BIT if self.toggle else 0)])


def heartbeat_frame(node: int, state: NmtState) -> Frame:
    """The heartbeat of a node.

    >>> heartbeat_frame(5, NmtState.OPERATIONAL)
    Frame.from_hex('705', '05')
    """
    return Frame(_identifier(node), StateByte(state).to_bytes())


def guard_request(node: int) -> Frame:
    """What the master sends to guard a node: a remote frame for one byte."""
    return Frame.remote_request(_identifier(node), 1)


@dataclass(frozen=True, slots=True)
class GuardedNode:
    """A node that is guarded; `toggle` is the bit of its next reply, 0 after it has come up."""

    node: int
    state: NmtState
    toggle: bool = False

    def __post_init__(self) -> None:
        node_id(self.node)
        flag(self.toggle, "the toggle bit")

    def reply(self) -> tuple[Frame, "GuardedNode"]:
        """The reply to a request, and the node afterwards."""
        frame = Frame(_identifier(self.node), StateByte(self.state, self.toggle).to_bytes())
        return frame, replace(self, toggle=not self.toggle)


def toggle_faults(replies: Iterable[StateByte]) -> tuple[int, ...]:
    """Which guarding replies (the first is 0) repeat the toggle bit of the one before.

    A repeated bit means that a reply was lost, or that something else answered.
    """
    bits = [each.toggle for each in replies]
    return tuple(at for at in range(1, len(bits)) if bits[at] == bits[at - 1])


def life_time_ms(guard_time_ms: int, factor: int) -> int:
    """Guard time (0x100C) times life time factor (0x100D): how long a node waits to be asked.

    0 where guarding is off.
    """
    time = whole(guard_time_ms, "the guard time", 0, LONGEST_MS, "16 bits hold it, in ms")
    return time * whole(factor, "the life time factor", 0, 255, "8 bits hold it")


@dataclass(frozen=True, slots=True)
class HeartbeatConsumer:
    """An entry of object 0x1016: whose heartbeat is expected within how many ms (0: not watched).

    >>> f"0x{HeartbeatConsumer(5, 1500).to_word():08X}"
    '0x000505DC'
    """

    node: int
    time_ms: int

    def __post_init__(self) -> None:
        node_id(self.node, "the node-ID of a watched node")
        whole(self.time_ms, "the consumer time", 0, LONGEST_MS, "16 bits hold it, in ms")

    @classmethod
    def from_word(cls, word: int) -> Self:
        """The entry read from its 32 bits: node-ID in bits 16 to 22, time in bits 0 to 15."""
        value = whole(word, "the entry of 0x1016", 0, 0xFFFF_FFFF, "32 bits hold it")
        return cls(value >> 16, value & 0xFFFF)

    def to_word(self) -> int:
        """The entry's 32 bits."""
        return self.node << 16 | self.time_ms

    def lost_at_ms(self, heard_ms: Sequence[float], until_ms: float) -> tuple[float, ...]:
        """When the node was given up, by the times at which it was heard, up to `until_ms`.

        Watching begins with the first heartbeat, and again with the next after a loss (CiA 301,
        from memory).
        """
        if not self.time_ms:
            return ()
        end = number(until_ms, "the end of the recording", "ms")
        heard = sorted(number(each, "the time of a heartbeat", "ms") for each in heard_ms)
        due = [each + self.time_ms for each in heard if each <= end]
        following = [*heard[1 : len(due)], end]
        return tuple(at for at, after in zip(due, following, strict=False) if at < after)


def check_heartbeat(producer_ms: int, consumer: HeartbeatConsumer) -> RuleResult:
    """The consumer waits longer than the producer's period (0x1017); both in ms.

    Equal times are too short already: a heartbeat that loses one arbitration comes late. At least
    1 ms more is asked for here; CiA 301 says longer, not by how much.
    """
    period = whole(producer_ms, "the producer time", 1, LONGEST_MS, "16 bits hold it, in ms")
    where = f"the consumer of node {consumer.node}"
    least, rule = float(period + 1), "consumer time longer than producer time"
    return RuleResult(rule, float(consumer.time_ms), least, "ms", where, SOURCE, True)


def _identifier(node: int) -> int:
    return CobId(CommunicationObject.ERROR_CONTROL, node).value

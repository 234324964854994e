"""Error counters of a node and the states they put it in, as a pure state machine.

Rules: ISO 11898-1, fault confinement (the same twelve rules stand in the CAN specification 2.0),
written from memory. A node counts transmit errors (TEC) and receive errors (REC). Above 127 in
either it is error-passive, above 255 in the transmit counter it is bus-off.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum
from typing import Self

from labkit.fieldbus import checked
from labkit.fieldbus.errors import PlanError

ERROR_PASSIVE_ABOVE = 127
BUS_OFF_ABOVE = 255
WARNING_AT = 96
"""A count of about 96 tells of a heavily disturbed bus (CAN specification 2.0, from memory)."""

RECOVERY_SEQUENCES = 128
RECOVERY_SEQUENCE_BITS = 11
RECEIVE_COUNT_AFTER_SUCCESS = 127
"""From above 127 a good frame sets REC to a value of 119 to 127; here the top one."""

BREAK_EVEN_ERROR_SHARE = 1 / 9
"""Share of failing transmissions at which TEC neither rises nor falls: 8·p = 1·(1 − p)."""

_COUNT_MOST = 1 << 31


class NodeState(Enum):
    """The three states of fault confinement (ISO 11898-1)."""

    ERROR_ACTIVE = "error-active"
    ERROR_PASSIVE = "error-passive"
    BUS_OFF = "bus-off"


class BusEvent(Enum):
    """What a node can experience, with the rule of ISO 11898-1 that counts it (from memory)."""

    SENT = "a frame sent and acknowledged"
    RECEIVED = "a frame received"
    TRANSMIT_ERROR = "an error while sending, error flag sent"
    ACKNOWLEDGE_ERROR = "nobody acknowledged the frame"
    STUFF_ERROR_IN_ARBITRATION = "own recessive stuff bit before RTR read as dominant"
    RECEIVE_ERROR = "an error while receiving, error flag sent"
    FIRST_TO_SEE_ERROR = "a dominant bit right behind the own error flag while receiving"
    FLAG_ERROR_SENDING = "a bit error in the own active error or overload flag while sending"
    FLAG_ERROR_RECEIVING = "a bit error in the own active error or overload flag while receiving"
    EIGHT_DOMINANT_SENDING = "eight more dominant bits behind an error flag while sending"
    EIGHT_DOMINANT_RECEIVING = "eight more dominant bits behind an error flag while receiving"
    ELEVEN_RECESSIVE = "eleven recessive bits in a row"


_TRANSMIT_STEP = {
    BusEvent.TRANSMIT_ERROR: 8,
    BusEvent.FLAG_ERROR_SENDING: 8,
    BusEvent.EIGHT_DOMINANT_SENDING: 8,
}
_RECEIVE_STEP = {
    BusEvent.RECEIVE_ERROR: 1,
    BusEvent.FIRST_TO_SEE_ERROR: 8,
    BusEvent.FLAG_ERROR_RECEIVING: 8,
    BusEvent.EIGHT_DOMINANT_RECEIVING: 8,
}


@dataclass(frozen=True, slots=True)
class ErrorCounters:
    """TEC and REC of one node. Each event gives new counters; nothing is changed in place.

    `idle_sequences` counts the runs of eleven recessive bits seen since bus-off, 0 to 127.
    Raises `PlanError` for counters that no node can have.

        >>> ErrorCounters().after(BusEvent.TRANSMIT_ERROR).transmit
        8
    """

    transmit: int = 0
    receive: int = 0
    idle_sequences: int = 0

    def __post_init__(self) -> None:
        mend = "counters start at 0"
        checked.whole(self.transmit, "The transmit error counter", 0, _COUNT_MOST, mend)
        checked.whole(self.receive, "The receive error counter", 0, _COUNT_MOST, mend)
        most = RECOVERY_SEQUENCES - 1
        checked.whole(self.idle_sequences, "The count of recessive runs", 0, most, mend)
        if self.idle_sequences and self.state is not NodeState.BUS_OFF:
            raise PlanError(
                f"A node that is {self.state.value} counts no recessive runs, this one has "
                f"{self.idle_sequences}: only a bus-off node does."
            )

    @property
    def state(self) -> NodeState:
        """The state that the counters put the node in."""
        if self.transmit > BUS_OFF_ABOVE:
            return NodeState.BUS_OFF
        if max(self.transmit, self.receive) > ERROR_PASSIVE_ABOVE:
            return NodeState.ERROR_PASSIVE
        return NodeState.ERROR_ACTIVE

    @property
    def warning(self) -> bool:
        """Whether a counter has reached 96."""
        return max(self.transmit, self.receive) >= WARNING_AT

    def after(self, event: BusEvent) -> Self:
        """Return the counters after `event`.

        A bus-off node takes no part in the traffic: only runs of eleven recessive bits count, and
        after 128 of them it is error-active again with both counters at 0. Those runs mean nothing
        to a node in another state. A missing acknowledgement counts 8 transmit errors unless the
        node is error-passive already: so a node alone on the bus never gets to bus-off.
        """
        if not isinstance(event, BusEvent):
            raise PlanError(f"{event!r} is no event on the bus: take one of BusEvent.")
        if self.state is NodeState.BUS_OFF:
            return self._recovering(event)
        if event is BusEvent.SENT:
            return type(self)(max(0, self.transmit - 1), self.receive)
        if event is BusEvent.RECEIVED:
            return type(self)(self.transmit, self._receive_after_success())
        if event is BusEvent.ACKNOWLEDGE_ERROR:
            step = 8 if self.state is NodeState.ERROR_ACTIVE else 0
            return type(self)(self.transmit + step, self.receive)
        return type(self)(
            self.transmit + _TRANSMIT_STEP.get(event, 0),
            self.receive + _RECEIVE_STEP.get(event, 0),
        )

    def course(self, events: Iterable[BusEvent]) -> tuple[Self, ...]:
        """Return the counters before, between and after `events`."""
        counters = [self]
        for event in events:
            counters.append(counters[-1].after(event))
        return tuple(counters)

    def _receive_after_success(self) -> int:
        if self.receive > ERROR_PASSIVE_ABOVE:
            return RECEIVE_COUNT_AFTER_SUCCESS
        return max(0, self.receive - 1)

    def _recovering(self, event: BusEvent) -> Self:
        if event is not BusEvent.ELEVEN_RECESSIVE:
            return self
        if self.idle_sequences + 1 == RECOVERY_SEQUENCES:
            return type(self)()
        return type(self)(self.transmit, self.receive, self.idle_sequences + 1)


def lone_transmitter(attempts: int) -> tuple[ErrorCounters, ...]:
    """Return the counters of a node that sends with nobody there to acknowledge.

    They rise by 8 to 128 in 16 attempts; then the node is error-passive and stays there, sending
    for ever (ISO 11898-1, exception to the rule of transmit errors).
    """
    mend = "count the attempts to send"
    count = checked.whole(attempts, "The number of attempts", 0, 1_000_000, mend)
    return ErrorCounters().course([BusEvent.ACKNOWLEDGE_ERROR] * count)


def shortest_recovery_ms(bit_rate_kbps: float) -> float:
    """Return the least time in ms from bus-off to error-active, on an idle bus.

    128 · 11 bits / bit rate (kbit/s). Traffic makes it longer, since runs of eleven recessive bits
    then come only between frames.
    """
    rate = checked.exact(bit_rate_kbps, "The bit rate", "kbit/s", "for instance 125")
    return float(RECOVERY_SEQUENCES * RECOVERY_SEQUENCE_BITS / rate)

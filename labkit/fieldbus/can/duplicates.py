"""What happens, attempt by attempt, when two nodes send different frames with one identifier.

Both win the arbitration and collide behind it. The effect is published, with the counts of 16
attempts and of 7 errors net for each later meeting, in Cho and Shin, "Error Handling of In-vehicle
Networks Makes Them Vulnerable", ACM CCS 2016 (from memory).
"""

from dataclasses import dataclass

from labkit.fieldbus import checked
from labkit.fieldbus.can.arbitration import recessive_sender, same_arbitration_field
from labkit.fieldbus.can.confinement import BusEvent, ErrorCounters, NodeState
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.errors import PlanError


@dataclass(frozen=True, slots=True)
class Attempt:
    """One common start: what went through and the counters of both nodes afterwards.

    `sent` holds 0 and 1 for the frames that were received after this start, in their order.
    """

    counters: tuple[ErrorCounters, ErrorCounters]
    sent: tuple[int, ...]

    @property
    def states(self) -> tuple[NodeState, NodeState]:
        """The states of both nodes."""
        return (self.counters[0].state, self.counters[1].state)


def meet(
    first: Frame,
    second: Frame,
    counters: tuple[ErrorCounters, ErrorCounters] = (ErrorCounters(), ErrorCounters()),
) -> tuple[Attempt, ...]:
    """Follow two nodes that start these frames together, until both are sent or one is bus-off.

    The node whose first differing bit is recessive sees the bit error. While it is error-active
    its flag destroys the other frame too: both count 8 and start again together. Once it is
    error-passive its flag is recessive and harms nobody: the other frame goes through, then its
    own. Two alike frames go through as one at the first attempt. Other traffic is left out.

    Raises `PlanError` if arbitration can tell the frames apart, or a node is bus-off already.
    """
    if not same_arbitration_field(first, second):
        raise PlanError(
            f"{first.identifier_text} and {second.identifier_text} differ in the arbitration "
            "field, so one just wins: give two frames with one identifier."
        )
    if NodeState.BUS_OFF in (counters[0].state, counters[1].state):
        raise PlanError("A bus-off node sends nothing: let it recover first.")
    loser = recessive_sender(first, second)
    if loser is None:
        both = (counters[0].after(BusEvent.SENT), counters[1].after(BusEvent.SENT))
        return (Attempt(both, (0, 1)),)
    attempts: list[Attempt] = []
    while True:
        attempts.append(_collide(counters, loser))
        counters = attempts[-1].counters
        if attempts[-1].sent or NodeState.BUS_OFF in attempts[-1].states:
            return tuple(attempts)


def meetings_to_bus_off(first: Frame, second: Frame, most: int = 1000) -> int | None:
    """Return at which common start of two periodic frames the first node goes bus-off.

    Counts the meetings of the two periods, each with all its attempts, and no other traffic of
    either node. None if nobody has gone bus-off after `most` meetings.
    """
    limit = checked.whole(most, "The most meetings", 1, 100_000, "count the periods to follow")
    counters = (ErrorCounters(), ErrorCounters())
    for meeting in range(1, limit + 1):
        last = meet(first, second, counters)[-1]
        if NodeState.BUS_OFF in last.states:
            return meeting
        counters = last.counters
    return None


def _collide(counters: tuple[ErrorCounters, ErrorCounters], loser: int) -> Attempt:
    """One common start of two frames that differ; `loser` sends the recessive bit."""
    other = 1 - loser
    # A node whose counter passes 127 with this very error still sends an active flag.
    flag_is_active = counters[loser].state is NodeState.ERROR_ACTIVE
    after = list(counters)
    after[loser] = after[loser].after(BusEvent.TRANSMIT_ERROR)
    if flag_is_active:
        after[other] = after[other].after(BusEvent.TRANSMIT_ERROR)
        return Attempt((after[0], after[1]), ())
    after[other] = after[other].after(BusEvent.SENT)
    if after[loser].state is NodeState.BUS_OFF:
        return Attempt((after[0], after[1]), (other,))
    after[loser] = after[loser].after(BusEvent.SENT)
    return Attempt((after[0], after[1]), (other, loser))

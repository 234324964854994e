"""A device's CAN controller on the bench: its queue of frames and its error counters.

A family's station is a `Controller` that knows what to do with frames. Times are whole
microseconds.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable
from functools import lru_cache
from typing import Any, Final

from labkit.fieldbus.can.confinement import ERROR_PASSIVE_ABOVE, BusEvent, ErrorCounters
from labkit.fieldbus.can.confinement import NodeState as BusState
from labkit.fieldbus.can.frame import Frame

_RECEIVE_ERRORS: Final = {
    BusEvent.RECEIVE_ERROR,
    BusEvent.FIRST_TO_SEE_ERROR,
    BusEvent.EIGHT_DOMINANT_RECEIVING,
}
NEVER_US: Final = 1 << 62


@lru_cache(maxsize=4096)
def _frame(identifier: int, data: bytes) -> Frame:
    return Frame(identifier, data)


class Controller:
    """Sends what waits, the most urgent first, and counts errors.

    `hears` are the indexes of the talkers that it hears. From `free_us` on its bus is free, and if
    `suspended` it waits longer. `wake` is to be called at `wake_us`. The three callbacks are told
    that a frame waits, that it must be woken at a time, and that it listens or flags otherwise than
    before. `rate` in kbit/s; while `seeking` it only overhears, to find the rate of others.
    """

    def __init__(
        self,
        index: int,
        name: str,
        rate: int,
        on_wants_bus: Callable[[Any, int], None],
        on_wake: Callable[[Any, int], None],
        on_change: Callable[[Any], None],
    ) -> None:
        self.index = index
        self.name = name
        self.counters = ErrorCounters()
        self.hears: frozenset[int] = frozenset()
        self.stuck = False
        self.seeking = False
        self.free_us = -NEVER_US
        self.suspended = False
        self.wake_us = NEVER_US
        self.waiting: list[tuple[int, int, Frame]] = []
        self._on_wants_bus = on_wants_bus
        self._on_wake = on_wake
        self._on_change = on_change
        self._queued = 0
        self.set_rate(rate)

    def set_rate(self, rate: int) -> None:
        """Be set to a data rate in kbit/s."""
        self.rate = rate
        self.bit_us = 1000 // rate

    # What a family's station says of itself.

    @property
    def on(self) -> bool:
        """Whether its electronics have power and work."""
        raise NotImplementedError

    @property
    def awake(self) -> bool:
        """Whether it has come up: what disturbs the bus before that counts for nothing."""
        raise NotImplementedError

    @property
    def listening(self) -> bool:
        """Whether it takes part in the traffic, acknowledging and flagging."""
        raise NotImplementedError

    def wake(self, now: int) -> None:
        """Do what is due now."""
        raise NotImplementedError

    def receive(self, now: int, frame: Frame) -> None:
        """Take in a frame that was read without an error."""
        raise NotImplementedError

    def overheard(self, now: int, rate: int) -> None:
        """A whole frame of others went by at a rate, kbit/s, while it was `seeking`."""

    def went_off(self, now: int) -> None:
        """Its counters have put it off the bus."""

    # What the bus asks.

    @property
    def active(self) -> bool:
        """Whether it is error-active."""
        return self.counters.state is BusState.ERROR_ACTIVE

    @property
    def next_frame(self) -> Frame:
        """The most urgent frame that waits."""
        return self.waiting[0][2]

    def waits(self, identifier: int) -> bool:
        """Whether a frame with this identifier waits to be sent."""
        return any(each[0] == identifier for each in self.waiting)

    def enqueue(self, now: int, identifier: int, data: bytes) -> None:
        """Give the controller a frame to send."""
        if not self.listening and not self.stuck:
            return
        self._queued += 1
        heapq.heappush(self.waiting, (identifier, self._queued, _frame(identifier, data)))
        self._on_wants_bus(self, now)

    def sent(self, now: int, frame: Frame) -> None:  # noqa: ARG002
        """Its frame went through, or was taken in by all who heard it."""
        self._drop(frame)

    def count(self, now: int, event: BusEvent) -> None:
        """Count what its controller sees; bus-off ends its part in the traffic.

        A receive counter above 127 rises no further: nothing depends on it any more, and real
        ones have eight bits at most.
        """
        before = self.counters
        if event in _RECEIVE_ERRORS and before.receive > ERROR_PASSIVE_ABOVE:
            return
        self.counters = before.after(event)
        if self.counters.state is before.state:
            return
        self._on_change(self)
        if self.counters.state is BusState.BUS_OFF:
            self.waiting.clear()
            self.went_off(now)

    def _drop(self, frame: Frame) -> None:
        # Power, a fault or bus-off may have emptied the queue while the frame was under way.
        if self.waiting and self.waiting[0][2] is frame:
            heapq.heappop(self.waiting)
            return
        for at, each in enumerate(self.waiting):
            if each[2] is frame:
                del self.waiting[at]
                heapq.heapify(self.waiting)
                return

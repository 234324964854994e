"""A bus that sends queued messages one after the other: the tests' own truth for response times.

Written without the analysis: time passes in whole bit times, the bus is either free or busy, a free
bus takes the message with the highest priority that is queued. Times are ints of bits.
"""

import heapq
from dataclasses import dataclass


@dataclass(frozen=True)
class Occasion:
    """One instance of a message: when its event is, and when its frame is queued."""

    priority: int
    length: int
    event: int
    queued: int


def responses(occasions: list[Occasion], busy_until: int = 0) -> list[tuple[Occasion, int]]:
    """Send every occasion and return each with the time from its event to the end of its frame.

    The bus is taken until `busy_until`. Several instances of one message go in their order.
    """
    waiting = sorted(occasions, key=lambda one: one.queued)
    ready: list[tuple[int, int, int]] = []
    done: list[tuple[Occasion, int]] = []
    now = busy_until
    arrived = 0
    while arrived < len(waiting) or ready:
        if not ready and waiting[arrived].queued > now:
            now = waiting[arrived].queued
        while arrived < len(waiting) and waiting[arrived].queued <= now:
            one = waiting[arrived]
            heapq.heappush(ready, (one.priority, one.event, arrived))
            arrived += 1
        _, _, place = heapq.heappop(ready)
        now += waiting[place].length
        done.append((waiting[place], now - waiting[place].event))
    return done

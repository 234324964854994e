"""When a PDO is sent: transmission type, inhibit time (100 µs) and event time (ms); SYNC.

Source: CiA 301 as in several public device manuals.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum
from typing import Final, Self

from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.canopen.identifiers import CommunicationObject, identifier
from labkit.fieldbus.checked import flag, number, whole
from labkit.fieldbus.errors import PlanError

LAST_CYCLIC: Final = 240
"""The last transmission type that counts SYNCs (CiA 301)."""
INHIBIT_STEP_MS: Final = 0.1
"""Subindex 3 of a communication record counts in 100 µs (CiA 301)."""
SYNC_PRODUCER_BIT: Final = 1 << 30
"""Set in object 0x1005: this device makes SYNC (CiA 301)."""


class Trigger(Enum):
    """What makes a PDO go out."""

    SYNC_AFTER_CHANGE = "at the next SYNC after a change"
    SYNC = "at every so many SYNCs"
    RESERVED = "reserved"
    REMOTE_SYNC = "when asked for, with the value of the last SYNC"
    REMOTE = "when asked for"
    EVENT_OF_MAKER = "by an event that the maker defines"
    EVENT_OF_PROFILE = "by an event that the device profile defines"

    @property
    def words(self) -> str:
        """As one says it."""
        return str(self.value)


def trigger(transmission_type: int) -> Trigger:
    """What a transmission type (0 to 255) means (CiA 301)."""
    kind = whole(transmission_type, "the transmission type", 0, 255, "8 bits hold it")
    if kind == 0:
        return Trigger.SYNC_AFTER_CHANGE
    if kind <= LAST_CYCLIC:
        return Trigger.SYNC
    return _TRIGGERS.get(kind, Trigger.RESERVED)


_TRIGGERS: Final = {
    252: Trigger.REMOTE_SYNC,
    253: Trigger.REMOTE,
    254: Trigger.EVENT_OF_MAKER,
    255: Trigger.EVENT_OF_PROFILE,
}


def transmission_words(transmission_type: int) -> str:
    """A transmission type in words.

    >>> transmission_words(3)
    'at every 3rd SYNC'
    """
    found = trigger(transmission_type)
    if found is not Trigger.SYNC:
        return found.words
    return "at every SYNC" if transmission_type == 1 else f"at every {_nth(transmission_type)} SYNC"


def sent_at_sync(transmission_type: int, sync: int, *, changed: bool = True) -> bool:
    """Whether a transmit PDO goes out at SYNC number `sync` (the first is 1)."""
    count = whole(sync, "the number of a SYNC", 1, 1 << 31)
    found = trigger(transmission_type)
    if found is Trigger.SYNC_AFTER_CHANGE:
        return changed
    return found is Trigger.SYNC and count % transmission_type == 0


def send_times_ms(
    events_ms: Iterable[float],
    *,
    inhibit_100us: int = 0,
    event_timer_ms: int = 0,
    until_ms: float,
    ready_at_ms: float = 0.0,
) -> tuple[float, ...]:
    """When a PDO of type 254 or 255 goes out, in ms, up to and with `until_ms`.

    An event within the inhibit time waits until it is over, however many more come. The event
    timer starts anew with every sending and sends where nothing else did (0: off). No rounding of
    bus times is in it.

        >>> send_times_ms([5, 6, 7], inhibit_100us=100, until_ms=30)
        (5.0, 15.0)
    """
    end = number(until_ms, "the end", "ms")
    inhibit = whole(inhibit_100us, "the inhibit time", 0, 0xFFFF, "16 bits, in 100 µs")
    timer = whole(event_timer_ms, "the event time", 0, 0xFFFF, "16 bits, in ms")
    events = sorted(number(each, "the time of an event", "ms") for each in events_ms)
    waiting = [each for each in events if each >= ready_at_ms]
    times: list[float] = []
    last = number(ready_at_ms, "the time from which it may send", "ms")
    free = last
    while True:
        due = [max(waiting[0], free)] if waiting else []
        due += [max(last + timer, free)] if timer else []
        if not due or min(due) > end:
            return tuple(times)
        last = min(due)
        times.append(last)
        free = last + inhibit / 10
        waiting = [each for each in waiting if each > last]


@dataclass(frozen=True, slots=True)
class Sync:
    """Objects 0x1005 and 0x1006: the SYNC's identifier, whether the device makes it, its period.

    `period_us` in µs, 0: none is made (CiA 301).
    """

    producer: bool = False
    period_us: int = 0
    identifier: int = CommunicationObject.SYNC.base

    def __post_init__(self) -> None:
        flag(self.producer, "the field 'producer'")
        whole(self.period_us, "the SYNC period", 0, 0xFFFF_FFFF, "32 bits hold it, in µs")
        identifier(self.identifier, "the identifier of SYNC")

    @classmethod
    def from_words(cls, cob_id: int, period_us: int) -> Self:
        """Read from the values of 0x1005 and 0x1006."""
        word = whole(cob_id, "the value of 0x1005", 0, 0xFFFF_FFFF, "32 bits hold it")
        if word & 0x1FFF_F800:
            raise PlanError(f"0x{word:08X} names an identifier of 29 bits, which is not read here.")
        return cls(bool(word & SYNC_PRODUCER_BIT), period_us, word & 0x7FF)

    def to_word(self) -> int:
        """The value of 0x1005."""
        return self.identifier | (SYNC_PRODUCER_BIT if self.producer else 0)

    def frame(self) -> Frame:
        """The SYNC itself, without data (the counter of newer issues is not made here)."""
        return Frame(self.identifier)


def _nth(count: int) -> str:
    tens = 10 < count % 100 < 14
    return f"{count}{'th' if tens else {1: 'st', 2: 'nd', 3: 'rd'}.get(count % 10, 'th')}"

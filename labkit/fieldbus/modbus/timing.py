"""How long a poll takes, and a round of polls with devices that are late or silent.

A poll is a request, the silence that ends it, the device's own response time, the reply, and the
silence before the next request (MODBUS over Serial Line V1.02, 2.4.1 and 2.5.1.1). The reply
time-out runs from the end of the request, and the whole reply must be there within it (a choice
of this library: masters differ, some count to the first character only). A device that does not
answer in time costs the whole time-out at every try. Times are in s.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from math import fsum
from typing import Final

from labkit.fieldbus.checked import every, seconds, whole
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.addresses import BROADCAST
from labkit.fieldbus.modbus.frame import Frame
from labkit.fieldbus.modbus.messages import Request
from labkit.fieldbus.serial.character import CharacterFormat
from labkit.fieldbus.serial.silence import silence

REPLY_TIMEOUT_S: Final = 1.0
"""Usual reply time-out: 1 s to several seconds at 9,600 bit/s (V1.02, 2.4.1)."""
TURNAROUND_S: Final = 0.1
"""Usual wait after a broadcast: 100 to 200 ms (V1.02, 2.4.1)."""
MOST_RETRIES: Final = 100
"""A choice of this library; masters try two or three times (common practice, no source)."""
_BESIDE_MESSAGE: Final = 3
"""Bytes of a frame that are not its message: address and CRC."""


@dataclass(frozen=True, slots=True)
class MasterSettings:
    """How a master polls: rate in bit/s, form of its characters, reply time-out, retries.

    `retries` are the tries after the first one; `turnaround_s` is the wait after a broadcast.
    """

    bit_rate: float
    form: CharacterFormat = field(default_factory=CharacterFormat)
    timeout_s: float = REPLY_TIMEOUT_S
    retries: int = 0
    turnaround_s: float = TURNAROUND_S

    def __post_init__(self) -> None:
        between_s = silence(self.bit_rate, self.form).between_s
        whole(self.retries, "The number of retries", 0, MOST_RETRIES)
        for value, what in (
            (self.timeout_s, "The reply time-out"),
            (self.turnaround_s, "The wait after a broadcast"),
        ):
            if seconds(value, what) < between_s:
                raise PlanError(
                    f"{what} is {value * 1000:g} ms, shorter than the silence of "
                    f"{between_s * 1000:.2f} ms between two frames: give it in s, and longer."
                )


@dataclass(frozen=True, slots=True)
class Poll:
    """One request to the device at `address`, or with 0 to all of them.

    `response_s` is what the device takes, after the silence that ends the request, until its reply
    begins; None of a device that does not answer. After a broadcast it has no meaning.
    """

    address: int
    request: Request
    response_s: float | None = 0.0

    def __post_init__(self) -> None:
        Frame.of_request(self.address, self.request)
        if self.response_s is not None:
            seconds(self.response_s, f"The response time of device {self.address}")


@dataclass(frozen=True, slots=True)
class PollTime:
    """Where the time of a poll goes, s. `waited_s`: for replies that did not come in time.

    `late`: the device answers, but after the time-out, into what the master sends next.
    """

    request_s: float
    silence_s: float
    response_s: float
    reply_s: float
    waited_s: float = 0.0
    late: bool = False

    @property
    def total_s(self) -> float:
        """The time until the next request may begin."""
        return fsum((self.request_s, self.silence_s, self.response_s, self.reply_s, self.waited_s))


@dataclass(frozen=True, slots=True)
class PollCycle:
    """The times of a round of polls, in their order."""

    polls: tuple[PollTime, ...]

    @property
    def total_s(self) -> float:
        """The time of the whole round, s: how old a value can be when it is read again."""
        return fsum(poll.total_s for poll in self.polls)

    @property
    def waited_s(self) -> float:
        """What devices that do not answer in time cost, and broadcasts, s."""
        return fsum(poll.waited_s for poll in self.polls)


def poll_time(poll: Poll, settings: MasterSettings) -> PollTime:
    """Where the time of one poll goes.

    >>> read = ReadRequest(Function.READ_HOLDING_REGISTERS, 0, 10)
    >>> round(1000 * poll_time(Poll(1, read), MasterSettings(9600)).total_s, 2)
    45.83
    """
    character_s = settings.form.time_s(settings.bit_rate)
    request_s = (len(poll.request.to_bytes()) + _BESIDE_MESSAGE) * character_s
    if poll.address == BROADCAST:
        return PollTime(request_s, 0.0, 0.0, 0.0, settings.turnaround_s)
    reply_s = (poll.request.reply_bytes + _BESIDE_MESSAGE) * character_s
    between_s = silence(settings.bit_rate, settings.form).between_s
    answers = poll.response_s is not None
    response_s = poll.response_s or 0.0
    if answers and between_s + response_s + reply_s <= settings.timeout_s:
        return PollTime(request_s, 2 * between_s, response_s, reply_s)
    tries = 1 + settings.retries
    return PollTime(tries * request_s, 0.0, 0.0, 0.0, tries * settings.timeout_s, answers)


def poll_cycle(polls: Iterable[Poll], settings: MasterSettings) -> PollCycle:
    """The times of a round of polls, one after the other."""
    asked = every(polls, Poll, "The polls")
    return PollCycle(tuple(poll_time(poll, settings) for poll in asked))

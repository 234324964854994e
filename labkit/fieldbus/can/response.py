"""Worst-case response times of a set of CAN messages, and whether all meet their deadlines.

The revised analysis: R. I. Davis, A. Burns, R. J. Bril, J. J. Lukkien, "Controller Area Network
(CAN) schedulability analysis: Refuted, revisited and revised", Real-Time Systems 35 (2007),
239 to 272. Unlike the analysis of 1994 it looks at every instance of a message within the busy
period, since the first is not always the slowest.

Assumed: every node always offers its highest-priority ready message to arbitration, frames are of
worst-case length, there are no errors on the bus. Equation numbers below are from memory.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import lcm

from labkit.fieldbus import checked
from labkit.fieldbus.can.frame import MAX_DATA_BYTES, Frame
from labkit.fieldbus.can.length import worst_case_bits
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.result import RuleResult

SOURCE = "Davis, Burns, Bril, Lukkien, Real-Time Systems 35 (2007)"
MOST_FRAMES = 50_000
"""A busy period with more frames is not followed: the load is too near 100 % or jitter absurd."""


@dataclass(frozen=True, slots=True)
class Message:
    """One message that is sent again and again. Times in ms.

    `period_ms` is the least time between two occasions to send it, `deadline_ms` counts from the
    occasion (left out: the period), `jitter_ms` is the most time from the occasion until the frame
    is queued. A `remote` message is a remote frame that asks for `data_bytes` bytes.
    """

    name: str
    identifier: int
    period_ms: float
    data_bytes: int = MAX_DATA_BYTES
    deadline_ms: float | None = None
    jitter_ms: float = 0.0
    extended: bool = False
    remote: bool = False

    def __post_init__(self) -> None:
        checked.text(self.name, "The name of a message")
        said = f"of {self.name}"
        mend = "give it in ms"
        checked.exact(self.period_ms, f"The period {said}", "ms", mend)
        checked.exact(self.jitter_ms, f"The jitter {said}", "ms", mend, zero=True)
        if self.deadline_ms is not None:
            checked.exact(self.deadline_ms, f"The deadline {said}", "ms", mend)
        mend = "a classical frame has 0 to 8"
        checked.whole(self.data_bytes, f"The data bytes {said}", 0, MAX_DATA_BYTES, mend)
        checked.flag(self.remote, f"The mark for a remote frame of message {self.name}")
        checked.flag(self.extended, f"The mark for a 29-bit identifier of message {self.name}")
        try:
            _frame(self)
        except PlanError as error:
            raise PlanError(f"Message {self.name}: {error}") from None

    @property
    def deadline(self) -> float:
        """The deadline in ms, the period where none was given."""
        return self.period_ms if self.deadline_ms is None else self.deadline_ms

    @property
    def bits(self) -> int:
        """The most bits that the message occupies, interframe space included."""
        return worst_case_bits(0 if self.remote else self.data_bytes, extended=self.extended)

    @property
    def priority(self) -> tuple[int, ...]:
        """Sorts messages as arbitration does, the winner first."""
        return _frame(self).priority


@dataclass(frozen=True, slots=True)
class Response:
    """What the analysis says about one message. Times in ms, None where there is no bound.

    `transmission_ms` is C, `blocking_ms` is B (the longest lower-priority frame that may just have
    begun), `busy_period_ms` the longest time that the bus serves this and higher priorities
    without a pause, `instances_ms` the response of each instance within it, `worst_ms` the largest.
    """

    message: Message
    transmission_ms: float
    blocking_ms: float
    busy_period_ms: float | None
    instances_ms: tuple[float, ...]
    worst_ms: float | None

    @property
    def first_instance_ms(self) -> float | None:
        """The response of the first instance alone: where the analysis of 1994 stopped."""
        return self.instances_ms[0] if self.instances_ms else None

    @property
    def schedulable(self) -> bool:
        """Whether the worst response meets the deadline."""
        return self.worst_ms is not None and self.deadline_rule.ok

    @property
    def deadline_rule(self) -> RuleResult:
        """The rule "worst-case response at most the deadline", in ms; infinity without a bound."""
        worst = float("inf") if self.worst_ms is None else self.worst_ms
        where = f"message {self.message.name}"
        deadline = float(self.message.deadline)
        return RuleResult("worst-case response time", worst, deadline, "ms", where, SOURCE)


@dataclass(frozen=True, slots=True)
class MessageSet:
    """All messages of one bus at one bit rate (kbit/s). No two may share an identifier.

    >>> plan = MessageSet.of(125, [Message("A", 1, 2.5, 7), Message("B", 2, 3.5, 7)])
    >>> [response.worst_ms for response in plan.responses()]
    [2.0, 2.0]
    """

    bit_rate_kbps: float
    messages: tuple[Message, ...]

    def __post_init__(self) -> None:
        checked.exact(self.bit_rate_kbps, "The bit rate", "kbit/s", "for instance 125")
        if not isinstance(self.messages, tuple) or not self.messages:
            raise PlanError("The message set is empty or no tuple: give at least one message.")
        taken: dict[tuple[int, ...], str] = {}
        names: set[str] = set()
        for message in self.messages:
            if not isinstance(message, Message):
                raise PlanError(f"The message set holds {message!r}: give it messages only.")
            if message.priority in taken:
                raise PlanError(
                    f"{taken[message.priority]} and {message.name} share the identifier "
                    f"0x{message.identifier:X}: arbitration cannot decide, give one another."
                )
            if message.name in names:
                raise PlanError(f"Two messages are called {message.name}: rename one.")
            taken[message.priority] = message.name
            names.add(message.name)

    @classmethod
    def of(cls, bit_rate_kbps: float, messages: Iterable[Message]) -> "MessageSet":
        """Return the set of `messages`, in whatever collection they come."""
        return cls(bit_rate_kbps, tuple(messages))

    @property
    def by_priority(self) -> tuple[Message, ...]:
        """The messages, the one that wins every arbitration first."""
        return tuple(sorted(self.messages, key=lambda message: message.priority))

    @property
    def utilisation(self) -> float:
        """Bus load with worst-case frames: Σ C / T. More than 1 cannot be sent."""
        return float(sum(self._exact_loads()))

    def responses(self) -> tuple[Response, ...]:
        """Return the worst-case responses, highest priority first.

        Raises `PlanError` for a load so near 100 % that a busy period has more than 50,000 frames.
        """
        jobs = _jobs(self)
        return tuple(_response(jobs, place, self) for place in range(len(jobs)))

    def response(self, name: str) -> Response:
        """Return the worst-case response of one message; `PlanError` for an unknown name."""
        for place, message in enumerate(self.by_priority):
            if message.name == name:
                return _response(_jobs(self), place, self)
        raise PlanError(f"There is no message {name!r} in the set: check the name.")

    @property
    def schedulable(self) -> bool:
        """Whether every message meets its deadline in the worst case."""
        return all(response.schedulable for response in self.responses())

    def load_rule(self) -> RuleResult:
        """Return the rule "bus load at most 100 %", worst-case frames."""
        load = 100 * self.utilisation
        return RuleResult("bus load", load, 100.0, "%", "the whole bus", SOURCE)

    def _exact_loads(self) -> list[Fraction]:
        per_ms = checked.fraction(self.bit_rate_kbps)
        return [
            message.bits / (checked.fraction(message.period_ms) * per_ms)
            for message in self.messages
        ]


@dataclass(frozen=True, slots=True)
class _Job:
    """A message in whole ticks; a tick is so short that period, jitter and bit time are whole."""

    message: Message
    length: int
    period: int
    jitter: int
    bit: int


def _frame(message: Message) -> Frame:
    if message.remote:
        return Frame.remote_request(
            message.identifier, message.data_bytes, extended=message.extended
        )
    return Frame(message.identifier, bytes(message.data_bytes), message.extended)


def _jobs(plan: MessageSet) -> tuple[_Job, ...]:
    """The messages by priority, all times as whole ticks, so that no rounding can creep in."""
    rate = checked.fraction(plan.bit_rate_kbps)
    times = [
        (
            message,
            checked.fraction(message.period_ms) * rate,
            checked.fraction(message.jitter_ms) * rate,
        )
        for message in plan.by_priority
    ]
    bit = lcm(*(time.denominator for _, *pair in times for time in pair))
    return tuple(
        _Job(message, message.bits * bit, int(period * bit), int(jitter * bit), bit)
        for message, period, jitter in times
    )


def _response(jobs: tuple[_Job, ...], place: int, plan: MessageSet) -> Response:
    job = jobs[place]
    higher = jobs[:place]
    blocking = max((lower.length for lower in jobs[place + 1 :]), default=0)
    tick_ms = 1 / (checked.fraction(plan.bit_rate_kbps) * job.bit)
    transmission = float(job.length * tick_ms)
    if not _bounded(jobs[: place + 1], blocking):
        return Response(job.message, transmission, float(blocking * tick_ms), None, (), None)
    busy = _busy_period(jobs[: place + 1], blocking)
    instances = _ceil_div(busy + job.jitter, job.period)
    times = _instance_times(job, higher, blocking, instances)
    return Response(
        message=job.message,
        transmission_ms=transmission,
        blocking_ms=float(blocking * tick_ms),
        busy_period_ms=float(busy * tick_ms),
        instances_ms=tuple(float(time * tick_ms) for time in times),
        worst_ms=float(max(times) * tick_ms),
    )


def _bounded(jobs: tuple[_Job, ...], blocking: int) -> bool:
    """Whether the busy period of these priorities ends.

    It does below 100 % load; at exactly 100 % only if nothing blocks and nothing jitters, since
    every bit of backlog then stays for ever.
    """
    load = sum(Fraction(job.length, job.period) for job in jobs)
    if load == 1:
        return blocking == 0 and not any(job.jitter for job in jobs)
    return load < 1


def _busy_period(jobs: tuple[_Job, ...], blocking: int) -> int:
    """t = B + Σ ⌈(t + J) / T⌉ · C over this and all higher priorities (equation 8)."""
    busy = blocking + jobs[-1].length
    while True:
        counts = [_ceil_div(busy + job.jitter, job.period) for job in jobs]
        if sum(counts) > MOST_FRAMES:
            raise PlanError(
                f"The busy period of message {jobs[-1].message.name} has more than {MOST_FRAMES} "
                "frames, the load is too near 100 % or a jitter too large: lengthen a period."
            )
        total = blocking + sum(n * job.length for n, job in zip(counts, jobs, strict=True))
        if total == busy:
            return busy
        busy = total


def _instance_times(
    job: _Job, higher: tuple[_Job, ...], blocking: int, instances: int
) -> list[int]:
    """Response of each instance q in the busy period: R(q) = J + w(q) − q·T + C (equation 11).

    w(q) = B + q·C + Σ ⌈(w + J + τ_bit) / T⌉ · C over the higher priorities (equation 10).
    """
    times = []
    wait = blocking
    for instance in range(instances):
        wait = max(wait, blocking + instance * job.length)
        wait = _queuing_delay(wait, blocking + instance * job.length, higher)
        times.append(job.jitter + wait - instance * job.period + job.length)
        wait += job.length
    return times


def _queuing_delay(start: int, fixed: int, higher: tuple[_Job, ...]) -> int:
    wait = start
    while True:
        total = fixed
        for job in higher:
            total += _ceil_div(wait + job.jitter + job.bit, job.period) * job.length
        if total == wait:
            return wait
        wait = total


def _ceil_div(number: int, by: int) -> int:
    return -(-number // by)

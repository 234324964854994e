"""What a capture of a real Modbus line tells: who is asked, who answers, how soon, what is spoiled.

`Ear` takes the lines of a capture in the order of time and knows the rate of the plan: only with
it silences can be told. `heard_and_planned` says line by line what agrees. Which frame answers
which is in `conversation`. Two devices with one address answer at once and spoil each other's
frames, or one after the other: what a capture shows of that is counted (common practice, no
source).
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import inf
from typing import Any, Final, Self, TypeVar

from labkit.fieldbus.checked import every, name, number, seconds, whole
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.addresses import BROADCAST, DEVICE_ADDRESSES, device_address
from labkit.fieldbus.modbus.conversation import Asked, answer_problem, as_reply
from labkit.fieldbus.modbus.cutting import Cut, FrameCutter
from labkit.fieldbus.modbus.frame import Frame
from labkit.fieldbus.modbus.functions import EXCEPTION_BIT, RefusedRequestError
from labkit.fieldbus.modbus.messages import ExceptionReply, Reply
from labkit.fieldbus.serial.capture import Burst
from labkit.fieldbus.serial.character import CharacterFormat, rate
from labkit.fieldbus.serial.silence import silence

T = TypeVar("T")
MOST_KINDS: Final = 4
"""Different functions, or refusals, that are kept of a device (our choice)."""
MOST_DETAILED: Final = 32
"""Devices of which functions and refusals are kept (our choice: what a line usually has)."""
COARSE_S: Final = 0.01
"""Times coarser than this tell no response time (our choice)."""


@dataclass(frozen=True, slots=True)
class PlannedDevice:
    """A device of the plan."""

    name: str
    address: int

    def __post_init__(self) -> None:
        name(self.name, "a device")
        device_address(self.address)


@dataclass(frozen=True, slots=True)
class PlannedLine:
    """What a capture is held against: bit rate in bit/s, characters, master's name, devices."""

    bit_rate: float
    form: CharacterFormat
    master: str
    devices: tuple[PlannedDevice, ...]

    def __post_init__(self) -> None:
        rate(self.bit_rate)
        name(self.master, "the master")
        object.__setattr__(self, "devices", every(self.devices, PlannedDevice, "The devices"))

    def to_json(self) -> dict[str, Any]:
        """The plan as plain JSON."""
        devices = [[each.name, each.address] for each in self.devices]
        head = {"rate": self.bit_rate, "form": self.form.text, "master": self.master}
        return {**head, "devices": devices}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """The plan read back. Raises `PlanError`."""
        try:
            form = CharacterFormat.from_text(data["form"])
            devices = tuple(PlannedDevice(*each) for each in data["devices"])
            return cls(data["rate"], form, data["master"], devices)
        except (KeyError, TypeError, ValueError) as error:
            raise PlanError(f"This is no plan of a Modbus line: {error}.") from error


@dataclass(slots=True)
class HeardDevice:
    """What was heard of one address.

    `asked` requests; of them `silent` found no answer, and of `spoiled` the answer's CRC was wrong.
    `answered` are good answers and refusals, `wrong` answers to something else, `unasked` answers
    to nobody, `again` second answers to one request. `functions` counts requests, `refusals` the
    exceptions by function and code. `timed` answers came `least_s` to `most_s` after the request.
    """

    asked: int = 0
    answered: int = 0
    silent: int = 0
    spoiled: int = 0
    wrong: int = 0
    unasked: int = 0
    again: int = 0
    timed: int = 0
    least_s: float = 0.0
    most_s: float = 0.0
    functions: Counter[int] = field(default_factory=Counter)
    refusals: Counter[tuple[int, int]] = field(default_factory=Counter)

    @property
    def sends(self) -> int:
        """Frames that it sent."""
        return self.answered + self.wrong + self.unasked + self.again

    def answers_after(self, time_s: float) -> None:
        """Take a response time in."""
        self.least_s = min(self.least_s, time_s) if self.timed else time_s
        self.most_s = max(self.most_s, time_s)
        self.timed += 1

    def to_json(self) -> list[Any]:
        """As plain JSON: numbers, times in µs among them, functions, refusals; small."""
        numbers = [getattr(self, key) for key in _COUNTS]
        numbers += [round(1e6 * self.least_s), round(1e6 * self.most_s)]
        while numbers and not numbers[-1]:
            numbers.pop()
        functions = [list(each) for each in self.functions.items()]
        refusals = [[*of, many] for of, many in self.refusals.items()]
        return [numbers, *([functions, refusals] if refusals else [functions] * bool(functions))]

    @classmethod
    def from_json(cls, data: Sequence[Any]) -> Self:
        """Read back what `to_json` wrote. Raises `PlanError`, `TypeError`, `ValueError`."""
        device = cls()
        parts: list[Any] = [*data, [], []]
        numbers, functions, refusals = parts[:3]
        counts = [*numbers, *[0] * len(_COUNTS), 0, 0][: len(_COUNTS) + 2]
        for key, many in zip(_COUNTS, counts, strict=False):
            setattr(device, key, _count(many))
        device.least_s, device.most_s = (_count(many) / 1e6 for many in counts[-2:])
        for function, many in functions:
            device.functions[whole(function, "the function", 0, 255)] = _count(many)
        for function, code, many in refusals:
            refusal = ExceptionReply(function, code)
            device.refusals[refusal.function, refusal.code] = _count(many)
        return device


_COUNTS: Final = (
    *("asked", "answered", "silent", "spoiled", "wrong", "unasked", "again"),
    "timed",
)


@dataclass(slots=True)
class Heard:
    """All that was heard: frames, how long (s), spoiled pieces, bytes of noise before frames.

    `foreign` are frames to addresses that no device may have, `broadcasts` those to all devices.
    Of the silences before frames `kept` were surely long enough, `short` surely not, `unsure` the
    rest; `least_s` is the shortest of the first two. `early`: a line whose bytes cannot all have
    come before the next one's time, so that the times are not those of the bytes.
    """

    frames: int = 0
    seconds: float = 0.0
    spoiled: int = 0
    noise: int = 0
    foreign: int = 0
    broadcasts: int = 0
    kept: int = 0
    short: int = 0
    unsure: int = 0
    early: int = 0
    least_s: float = 0.0
    devices: dict[int, HeardDevice] = field(default_factory=dict)

    def device(self, address: int) -> HeardDevice:
        """What was heard of an address, nothing yet if nothing was."""
        return self.devices.get(address) or HeardDevice()

    def to_json(self) -> dict[str, Any]:
        """As plain JSON; together with a plan it is all that the comparison needs."""
        plain = {key: getattr(self, key) for key in _TOTALS}
        times = {"seconds": round(self.seconds, 3), "least_s": round(self.least_s, 6)}
        devices = {str(at): each.to_json() for at, each in sorted(self.devices.items())}
        return {**plain, **times, "devices": devices}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Read back what `to_json` wrote. Raises `PlanError` for anything else."""
        try:
            heard = cls()
            for key in _TOTALS:
                setattr(heard, key, _count(data[key]))
            heard.seconds = number(data["seconds"], "the time of a capture", "s")
            heard.least_s = seconds(data["least_s"], "a silence")
            for at, device in data["devices"].items():
                heard.devices[device_address(int(at))] = HeardDevice.from_json(device)
        except (KeyError, TypeError, ValueError, AttributeError) as error:
            raise PlanError("This is not what was heard on a Modbus line.") from error
        return heard


_TOTALS: Final = (
    *("frames", "spoiled", "noise", "foreign", "broadcasts"),
    *("kept", "short", "unsure", "early"),
)


@dataclass(frozen=True, slots=True)
class _Under:
    """The request under way, its bytes and its end; `answered`: its answer has come already."""

    asked: Asked
    message: bytes
    end_s: float
    answered: bool = False
    spoiled: bool = False


class Ear:
    """Listens to a capture, a line after the other, with the plan at hand.

    >>> ear = Ear(PlannedLine(19_200, CharacterFormat(), "master", (PlannedDevice("pump", 17),)))
    >>> ear.hear(Burst(0.5, bytes.fromhex("11 03 00 6B 00 03 76 87")))
    >>> ear.end()
    >>> ear.heard.device(17).asked
    1
    """

    def __init__(self, plan: PlannedLine) -> None:
        self.heard = Heard()
        self._cutter = FrameCutter(plan.bit_rate, plan.form)
        self._between_s = silence(plan.bit_rate, plan.form).between_s
        self._resolution_s = inf
        self._first_s: float | None = None
        self._under: _Under | None = None

    def hear(self, burst: Burst) -> None:
        """Take the next line in."""
        self._first_s = burst.time_s if self._first_s is None else self._first_s
        self.heard.seconds = max(self.heard.seconds, burst.time_s - self._first_s)
        self._resolution_s = min(self._resolution_s, burst.resolution_s)
        for cut in self._cutter.take(burst):
            self._take(cut)

    def end(self) -> None:
        """That was all. A last request whose answer would come later is no silent one."""
        for cut in self._cutter.rest():
            self._take(cut)

    def _take(self, cut: Cut) -> None:
        self._silence(cut)
        self.heard.noise += cut.noise
        if cut.frame is None:
            self._spoiled()
            return
        self.heard.frames += 1
        self._frame(cut, cut.frame)

    def _silence(self, cut: Cut) -> None:
        """What the capture tells of the silence before a frame."""
        if cut.gap_s is None or self._first_s is None:
            return
        gap_s, rounding_s = cut.gap_s, self._resolution_s
        if gap_s < -rounding_s:
            self.heard.early += 1
            return
        if self._between_s - rounding_s <= gap_s < self._between_s + rounding_s:
            self.heard.unsure += 1
            return
        told = self.heard.kept + self.heard.short
        self.heard.least_s = max(0.0, min(gap_s, self.heard.least_s) if told else gap_s)
        if gap_s < self._between_s:
            self.heard.short += 1
        else:
            self.heard.kept += 1

    def _spoiled(self) -> None:
        self.heard.spoiled += 1
        if self._under is None or self._under.answered or self._under.spoiled:
            return
        self._of(self._under.asked.address).spoiled += 1
        under = self._under
        self._under = _Under(under.asked, under.message, under.end_s, spoiled=True)

    def _frame(self, cut: Cut, frame: Frame) -> None:
        under, reply = self._under, as_reply(frame)
        if under is not None and _answers(under, frame, reply):
            self._answered(cut, under, reply)
            return
        asked = _as_request(frame)
        if asked is not None:
            self._asked(cut, frame, asked)
            return
        if frame.address not in DEVICE_ADDRESSES:
            self.heard.foreign += 1
            return
        device = self._of(frame.address)
        if under is not None and not under.answered and under.asked.address == frame.address:
            device.wrong += 1
            self._under = _Under(under.asked, under.message, under.end_s, answered=True)
            return
        device.unasked += 1

    def _answered(self, cut: Cut, under: _Under, reply: Reply | None) -> None:
        device = self._of(under.asked.address)
        if under.answered:
            device.again += 1
            return
        device.answered += 1
        if isinstance(reply, ExceptionReply):
            self._keep(device, device.refusals, (reply.function, reply.code))
        took_s = cut.start_s - under.end_s
        if cut.timed and took_s >= 0 and self._resolution_s <= COARSE_S:
            device.answers_after(took_s)
        self._under = _Under(under.asked, under.message, under.end_s, answered=True)

    def _asked(self, cut: Cut, frame: Frame, asked: Asked) -> None:
        before, self._under = self._under, None
        if before is not None and not (before.answered or before.spoiled):
            self._of(before.asked.address).silent += 1
        if frame.address == BROADCAST:
            self.heard.broadcasts += 1
            return
        if frame.address not in DEVICE_ADDRESSES:
            self.heard.foreign += 1
            return
        device = self._of(frame.address)
        device.asked += 1
        self._keep(device, device.functions, asked.function)
        self._under = _Under(asked, frame.message, cut.end_s)

    def _of(self, address: int) -> HeardDevice:
        return self.heard.devices.setdefault(address, HeardDevice())

    def _keep(self, device: HeardDevice, counts: Counter[T], what: T) -> None:
        """Count what is worth a word, of a few devices and a few kinds each."""
        if what in counts:
            counts[what] += 1
            return
        devices = self.heard.devices.values()
        known = device.functions or sum(1 for each in devices if each.functions) < MOST_DETAILED
        if known and len(counts) < MOST_KINDS:
            counts[what] = 1


def _answers(under: _Under, frame: Frame, reply: Reply | None) -> bool:
    """Whether a frame of the device that was asked is its answer.

    After an answer the same request may be sent again: what repeats the request is one.
    """
    repeats = frame.message == under.message
    if frame.address != under.asked.address or (repeats and under.answered):
        return False
    if reply is not None:
        return answer_problem(under.asked, reply) is None
    # Of a function that is not known here nobody can say more.
    unknown = under.asked.request is None
    return unknown and not repeats and frame.message[0] == under.asked.function


def _as_request(frame: Frame) -> Asked | None:
    """The frame as a request; None where it can be none."""
    try:
        return Asked(frame.address, frame.message[0], frame.request)
    except RefusedRequestError as refused:
        if frame.message[0] & EXCEPTION_BIT or as_reply(frame) is not None:
            return None
        return Asked(frame.address, refused.function, None)


def _count(value: object) -> int:
    return whole(value, "a number of frames", 0, 10**9)

"""What a trainee can ask the bench, as data: taken on any bench, and compared with each other.

`agrees` says whether two readings of the same measurement could come from one bench: meters have
an error, indicators have not.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, ClassVar, Final

from labkit.bench.bench import LONG_RUN_S, RUN_S, Bench
from labkit.bench.conductors import Wire
from labkit.bench.frame_log import LoggedLine, heard, heard_load, read_frame_log
from labkit.bench.meter import Shown
from labkit.bench.scope import look
from labkit.bench.situation import Terminal
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.devicenet.identifiers import AddressRole, Identifier, Purpose
from labkit.fieldbus.errors import PlanError

METER_SHARE: Final = 0.02
METER_FLOOR: Final = 0.05
"""Two readings agree within 2 % and 0.05 of the unit (a hand meter and its leads; no source)."""


_OF_A_SLAVE: Final = (Purpose.EXPLICIT_RESPONSE, Purpose.DUPLICATE_CHECK)
LOG_LINES: Final = 120
"""Lines of a frame log that are kept: power-up and the first scans."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What a measurement gave: `text` to read, `value` a number where it is one (else None).

    `refused`: there is no reading; the text says why. `detail` is JSON for a picture of it.
    """

    text: str
    value: float | None = None
    refused: bool = False
    detail: Any = None

    def agrees(self, other: Reading) -> bool:
        """Whether both could be readings of one and the same bench."""
        if self.value is None or other.value is None:
            return (self.text, self.refused) == (other.text, other.refused)
        if math.isinf(self.value) or math.isinf(other.value):
            return self.value == other.value
        limit = max(METER_FLOOR, METER_SHARE * max(abs(self.value), abs(other.value)))
        return abs(self.value - other.value) <= limit

    @staticmethod
    def of(shown: Shown) -> Reading:
        """The reading of a meter."""
        return Reading(shown.text, shown.value, shown.refused)


@dataclass(frozen=True)
class Measurement:
    """Base of all measurements."""

    kind: ClassVar[str] = ""

    def take(self, bench: Bench) -> Reading:
        """The reading on a bench. Raises `PlanError` for what is not there."""
        raise NotImplementedError

    @property
    def words(self) -> str:
        """The measurement as a log names it."""
        raise NotImplementedError


@dataclass(frozen=True)
class Ohms(Measurement):
    """Resistance between two terminals."""

    a: Terminal
    b: Terminal
    kind: ClassVar[str] = "ohms"

    def take(self, bench: Bench) -> Reading:
        """The ohmmeter's reading, or its refusal on a live bench."""
        return Reading.of(bench.ohms(self.a, self.b))

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"resistance from {self.a.words} to {self.b.words}"


@dataclass(frozen=True)
class Volts(Measurement):
    """DC volts of `a` above `b` on the idle bus."""

    a: Terminal
    b: Terminal
    kind: ClassVar[str] = "volts"

    def take(self, bench: Bench) -> Reading:
        """The voltmeter's reading."""
        return Reading.of(bench.volts(self.a, self.b))

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"voltage of {self.a.words} against {self.b.words}"


@dataclass(frozen=True)
class Look(Measurement):
    """Open a connector and look at where the conductors are landed."""

    connector: str
    kind: ClassVar[str] = "look"

    def take(self, bench: Bench) -> Reading:
        """The colour on each terminal."""
        landed = bench.landed(self.connector)
        on = dict.fromkeys(range(1, 6), "empty")
        for wire, terminal in zip(Wire, landed, strict=True):
            if terminal:
                on[terminal] = (
                    wire.colour if on[terminal] == "empty" else f"{on[terminal]} and {wire.colour}"
                )
        loose = [wire.colour for wire, terminal in zip(Wire, landed, strict=True) if not terminal]
        text = ", ".join(f"{number} {colour}" for number, colour in on.items())
        return Reading(text + (f"; not landed: {', '.join(loose)}" if loose else ""))

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"look into {self.connector}"


@dataclass(frozen=True)
class SupplyCurrent(Measurement):
    """What a supply gives, A."""

    supply: str
    kind: ClassVar[str] = "supply current"

    def take(self, bench: Bench) -> Reading:
        """The supply's own display."""
        return Reading.of(bench.supply_current(self.supply))

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"current of {self.supply}"


@dataclass(frozen=True)
class BusyVolts(Measurement):
    """DC volts of `a` above `b` while the bus is busy."""

    a: Terminal
    b: Terminal
    kind: ClassVar[str] = "busy volts"

    def take(self, bench: Bench) -> Reading:
        """The voltmeter's reading: the mean of what changes far too quickly for it."""
        return Reading.of(bench.busy_volts(self.a, self.b))

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"voltage of {self.a.words} against {self.b.words}, bus busy"


@dataclass(frozen=True)
class Indicators(Measurement):
    """Watch the indicators of every node from power-up on, for `seconds`: 6, or 20 to see things
    come and go."""

    seconds: float = RUN_S
    kind: ClassVar[str] = "indicators"

    def __post_init__(self) -> None:
        if self.seconds not in (RUN_S, LONG_RUN_S):
            raise PlanError(
                f"The indicators are watched for {RUN_S:g} s or for {LONG_RUN_S:g} s, not for "
                f"{self.seconds!r} s."
            )

    @property
    def long(self) -> bool:
        """Whether it is the longer watch."""
        return self.seconds > RUN_S

    def take(self, bench: Bench) -> Reading:
        """The looks at the end in words; `detail` holds the looks over time."""
        trace = bench.long_trace if self.long else bench.trace
        groups: dict[str, list[str]] = {}
        for name in bench.layout.devices:
            look = trace.network_status(name).value
            groups.setdefault(look, []).append(name)
        text = "; ".join(f"{look}: {', '.join(names)}" for look, names in groups.items())
        detail = {
            name: {
                "network": [[at, look.value] for at, look in trace.network[name]],
                "module": [[at, look.value] for at, look in trace.module[name]],
            }
            for name in bench.layout.devices
        }
        return Reading(f"network status: {text}", detail=detail)

    @property
    def words(self) -> str:
        """As a log names it."""
        return "indicators from power-up on" + (f", {self.seconds:g} s" if self.long else "")


@dataclass(frozen=True)
class FrameLog(Measurement):
    """Log the frames that one device hears from power-up on."""

    listener: str
    kind: ClassVar[str] = "frame log"

    def take(self, bench: Bench) -> Reading:
        """Who is heard, and whether there are errors; `detail` holds the first lines."""
        bench.layout.device(self.listener)
        log = heard(bench.trace, self.listener)
        last = [each.frame for each in log if each.time_s >= RUN_S - 1]
        senders = sorted({node for frame in set(last) if frame for node in _sender(frame)})
        errors = last.count(None)
        often = "none" if not errors else "a few" if errors < 20 else "many"
        voices = ", ".join(str(node) for node in senders) or "nobody"
        load = round(100 * heard_load(bench.trace, self.listener, RUN_S - 1), -1)
        text = (
            f"last second: nodes heard {voices}; error frames {often}; bus load about {load:.0f} %"
        )
        rows = [each.row() for each in log[:LOG_LINES]]
        return Reading(text, detail={"log": rows, "words": _in_words(read_frame_log(rows))})

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"frame log at {self.listener}"


@dataclass(frozen=True)
class ScannerReport(Measurement):
    """What the scanner says of each entry of its scan list."""

    kind: ClassVar[str] = "scanner report"

    def take(self, bench: Bench) -> Reading:
        """One clause an entry."""
        trace = bench.trace
        if not next(d for d in bench.devices if d.name == bench.master.name).powered:
            return Reading("the scanner has no power")
        clauses = [f"node {address} {trace.report(address).text}" for address in trace.entries]
        return Reading("; ".join(clauses) or "the scan list is empty")

    @property
    def words(self) -> str:
        """As a log names it."""
        return "the scanner's report"


@dataclass(frozen=True)
class Scope(Measurement):
    """CAN_H and CAN_L at a device while another sends."""

    device: str
    talker: str
    kind: ClassVar[str] = "scope"

    def take(self, bench: Bench) -> Reading:
        """The levels in words, to a tenth of a volt; `detail` holds the picture."""
        trace = look(bench, self.device, self.talker)
        difference = trace.difference
        text = (
            f"CAN_H {min(trace.can_h):.1f} to {max(trace.can_h):.1f} V, "
            f"CAN_L {min(trace.can_l):.1f} to {max(trace.can_l):.1f} V, "
            f"difference {min(difference):.1f} to {max(difference):.1f} V"
        )
        detail = {
            "us": [round(time * 1e6, 3) for time in trace.times_s],
            "can_h": [round(volt, 3) for volt in trace.can_h],
            "can_l": [round(volt, 3) for volt in trace.can_l],
            "bits": list(trace.bits),
        }
        return Reading(text.replace("-0.0", "0.0"), detail=detail)

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"scope at {self.device}, {self.talker} sending"


def _sender(frame: Frame) -> tuple[int, ...]:
    if frame.extended:
        return ()
    try:
        identifier = Identifier.from_value(frame.identifier)
    except PlanError:
        return ()
    # Of other frames the address is the receiver's, or anybody's: they tell nobody's voice.
    source = identifier.role is AddressRole.SOURCE or identifier.purpose in _OF_A_SLAVE
    return (identifier.address,) if source and identifier.address is not None else ()


def _in_words(lines: list[LoggedLine]) -> list[list[Any]]:
    """Lines, each with its meaning: (s, what the line holds, words, trouble)."""
    return [
        [
            line.time_s,
            line.frame.identifier_text if line.frame else "error",
            line.text,
            line.trouble,
        ]
        for line in lines
    ]


MEASUREMENTS: Final[dict[str, type[Measurement]]] = {
    m.kind: m
    for m in (
        Ohms,
        Volts,
        BusyVolts,
        Look,
        SupplyCurrent,
        Indicators,
        ScannerReport,
        FrameLog,
        Scope,
    )
}
"""Every kind of measurement by its name."""

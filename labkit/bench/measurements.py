"""What a trainee can ask the bench, as data: taken on any bench, and compared with each other.

`agrees` says whether two readings of the same measurement could come from one bench: meters have
an error, indicators have not.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, ClassVar, Final

from labkit.bench.bench import LONG_RUN_S, RUN_S, Bench
from labkit.bench.layout import Layout
from labkit.bench.meter import Shown
from labkit.bench.scope import look
from labkit.bench.situation import Terminal
from labkit.fieldbus.errors import PlanError

METER_SHARE: Final = 0.02
METER_FLOOR: Final = 0.05
"""Two readings agree within 2 % and 0.05 of the unit (a hand meter and its leads; no source)."""


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

    @property
    def of_traffic(self) -> bool:
        """Whether it shows the usual run of the bus, `Bench.trace`, and nothing else."""
        return False

    @property
    def key(self) -> str:
        """Under which name a recording keeps it."""
        return self.kind

    def take(self, bench: Bench) -> Reading:
        """The reading on a bench. Raises `PlanError` for what is not there."""
        raise NotImplementedError

    @property
    def words(self) -> str:
        """The measurement as a log names it, where it names no conductor: see `words_on`."""
        raise NotImplementedError

    def words_on(self, layout: Layout) -> str:  # noqa: ARG002
        """The measurement as a log names it."""
        return self.words


@dataclass(frozen=True)
class Ohms(Measurement):
    """Resistance between two terminals."""

    a: Terminal
    b: Terminal
    kind: ClassVar[str] = "ohms"

    def take(self, bench: Bench) -> Reading:
        """The ohmmeter's reading, or its refusal on a live bench."""
        return Reading.of(bench.ohms(self.a, self.b))

    def words_on(self, layout: Layout) -> str:
        """As a log names it."""
        return f"resistance from {self.a.words_on(layout)} to {self.b.words_on(layout)}"


@dataclass(frozen=True)
class Volts(Measurement):
    """DC volts of `a` above `b` on the idle bus."""

    a: Terminal
    b: Terminal
    kind: ClassVar[str] = "volts"

    def take(self, bench: Bench) -> Reading:
        """The voltmeter's reading."""
        return Reading.of(bench.volts(self.a, self.b))

    def words_on(self, layout: Layout) -> str:
        """As a log names it."""
        return f"voltage of {self.a.words_on(layout)} against {self.b.words_on(layout)}"


@dataclass(frozen=True)
class Look(Measurement):
    """Open a connector and look at where the conductors are landed."""

    connector: str
    kind: ClassVar[str] = "look"

    def take(self, bench: Bench) -> Reading:
        """The colour on each terminal."""
        conductors = bench.layout.conductors
        landed = [*zip(conductors.wires, bench.landed(self.connector), strict=True)]
        on = dict.fromkeys(conductors.in_order, "empty")
        for wire, terminal in landed:
            if terminal:
                on[terminal] = (
                    wire.colour if on[terminal] == "empty" else f"{on[terminal]} and {wire.colour}"
                )
        loose = [wire.colour for wire, terminal in landed if not terminal]
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

    def words_on(self, layout: Layout) -> str:
        """As a log names it."""
        return f"voltage of {self.a.words_on(layout)} against {self.b.words_on(layout)}, bus busy"


@dataclass(frozen=True)
class Scope(Measurement):
    """The signal pair at a device while another sends."""

    device: str
    talker: str
    kind: ClassVar[str] = "scope"

    def take(self, bench: Bench) -> Reading:
        """The levels in words, to a tenth of a volt; `detail` holds the picture."""
        trace = look(bench, self.device, self.talker)
        high, low = (wire.words for wire in bench.layout.conductors.pair)
        difference = trace.difference
        text = (
            f"{high} {min(trace.high):.1f} to {max(trace.high):.1f} V, "
            f"{low} {min(trace.low):.1f} to {max(trace.low):.1f} V, "
            f"difference {min(difference):.1f} to {max(difference):.1f} V"
        )
        detail = {
            "us": [round(time * 1e6, 3) for time in trace.times_s],
            "can_h": [round(volt, 3) for volt in trace.high],
            "can_l": [round(volt, 3) for volt in trace.low],
            "bits": list(trace.bits),
        }
        return Reading(text.replace("-0.0", "0.0"), detail=detail)

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"scope at {self.device}, {self.talker} sending"


@dataclass(frozen=True)
class Watch(Measurement):
    """Watch the indicators from power-up on, for `seconds`: 6, or 20 to see things come and go.

    What they show is a family's own.
    """

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

    @property
    def of_traffic(self) -> bool:
        """The longer watch plays a run of its own."""
        return not self.long

    @property
    def key(self) -> str:
        """The two watches apart."""
        return f"long {self.kind}" if self.long else self.kind

    def run_on(self, bench: Bench) -> Any:
        """The family's trace of as long a run."""
        return bench.long_trace if self.long else bench.trace

    @property
    def words(self) -> str:
        """As a log names it."""
        return "indicators from power-up on" + (f", {self.seconds:g} s" if self.long else "")

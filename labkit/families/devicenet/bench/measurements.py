"""What shows DeviceNet's traffic: indicators, frame log, the scanner's report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar, Final, cast

from labkit.bench.bench import RUN_S, Bench
from labkit.bench.can.frame_log import Heard
from labkit.bench.can.heard_frames import HeardFrames
from labkit.bench.measurements import Measurement, Reading, Watch
from labkit.families.devicenet.bench.log_words import LoggedLine, read_frame_log
from labkit.families.devicenet.bench.trace import Trace
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.devicenet.identifiers import AddressRole, Identifier, Purpose
from labkit.fieldbus.errors import PlanError

if TYPE_CHECKING:
    from labkit.families.devicenet.bench.setup import Setup

_OF_A_SLAVE: Final = (Purpose.EXPLICIT_RESPONSE, Purpose.DUPLICATE_CHECK)


@dataclass(frozen=True)
class Indicators(Watch):
    """The network and the module status indicator of every node."""

    def take(self, bench: Bench) -> Reading:
        """The looks at the end in words; `detail` holds the looks over time."""
        trace: Trace = self.run_on(bench)
        detail = {
            name: {
                "network": [[at, look.value] for at, look in trace.network[name]],
                "module": [[at, look.value] for at, look in trace.module[name]],
            }
            for name in bench.layout.devices
        }
        return Reading(_network_looks(bench, trace), detail=detail)


@dataclass(frozen=True)
class FrameLog(HeardFrames):
    """Log the frames that one device hears from power-up on."""

    def _senders(self, frame: Frame) -> Sequence[int]:
        return _sender(frame)

    def _in_words(self, log: Sequence[Heard]) -> list[list[Any]]:
        return _in_words(read_frame_log([each.row() for each in log]))


@dataclass(frozen=True)
class ScannerReport(Measurement):
    """What the scanner says of each entry of its scan list."""

    kind: ClassVar[str] = "scanner report"

    @property
    def of_traffic(self) -> bool:
        """It shows the usual run."""
        return True

    def take(self, bench: Bench) -> Reading:
        """One clause an entry."""
        trace: Trace = bench.trace
        if not next(d for d in bench.devices if d.name == bench.setup.scanner).powered:
            return Reading("the scanner has no power")
        clauses = [f"node {address} {trace.report(address).text}" for address in trace.entries]
        return Reading("; ".join(clauses) or "the scan list is empty")

    @property
    def words(self) -> str:
        """As a log names it."""
        return "the scanner's report"


@dataclass(frozen=True)
class CommandOutputs(Measurement):
    """Have the program command one device's outputs on, all others off, and look at the line.

    The scanner sends to the planned node address: what is set to that address answers.
    """

    device: str
    kind: ClassVar[str] = "command outputs"

    @property
    def key(self) -> str:
        """One for each device."""
        return f"{self.kind}: {self.device}"

    def take(self, bench: Bench) -> Reading:
        """Whose outputs are on at the end."""
        return _outputs_on(bench, cast("Setup", bench.setup).commanding(bench, self.device))

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"outputs of {self.device} commanded on"


@dataclass(frozen=True)
class GoIdle(Measurement):
    """With all outputs commanded on, put the scanner from run to idle, and look at the line."""

    kind: ClassVar[str] = "go idle"

    def take(self, bench: Bench) -> Reading:
        """Whose outputs were on in run, whose are on in idle, and the network lights then."""
        trace = cast("Setup", bench.setup).going_idle(bench)
        run = [name for name in bench.layout.devices if trace.outputs_on(name, RUN_S)]
        idle = [name for name in bench.layout.devices if trace.outputs_on(name)]
        text = f"in run {_on_in_words(run)}; in idle {_on_in_words(idle)}"
        return Reading(
            f"{text}; then {_network_looks(bench, trace)}", detail={"run": run, "on": idle}
        )

    @property
    def words(self) -> str:
        """As a log names it."""
        return "all outputs commanded on, then the scanner put to idle"


@dataclass(frozen=True)
class LoseScanner(Measurement):
    """With all outputs commanded on, switch the scanner off, and look at the line."""

    kind: ClassVar[str] = "lose scanner"

    def take(self, bench: Bench) -> Reading:
        """Whose outputs are still on when every connection has timed out."""
        return _outputs_on(bench, cast("Setup", bench.setup).losing_scanner(bench))

    @property
    def words(self) -> str:
        """As a log names it."""
        return "all outputs commanded on, then the scanner switched off"


def _outputs_on(bench: Bench, trace: Trace) -> Reading:
    on = [name for name in bench.layout.devices if trace.outputs_on(name)]
    return Reading(_on_in_words(on), detail={"on": on})


def _on_in_words(on: list[str]) -> str:
    return f"on: {', '.join(on)}" if on else "no output is on"


def _network_looks(bench: Bench, trace: Trace) -> str:
    """How the network status indicators look at the end."""
    groups: dict[str, list[str]] = {}
    for name in bench.layout.devices:
        look = trace.network_status(name).value
        groups.setdefault(look, []).append(name)
    text = "; ".join(f"{look}: {', '.join(names)}" for look, names in groups.items())
    return f"network status: {text}"


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

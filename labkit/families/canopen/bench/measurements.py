"""What shows CANopen's traffic: two lamps at each node (CiA 303-3), the manager's report, a log."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Final

from labkit.bench.bench import Bench
from labkit.bench.can.frame_log import Heard
from labkit.bench.can.heard_frames import HeardFrames, error_words
from labkit.bench.measurements import Measurement, Reading, Watch
from labkit.families.canopen.bench.trace import Look, Trace
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.logline import LogLine
from labkit.fieldbus.canopen.decoder import decode_log
from labkit.fieldbus.canopen.emergency import emergency_words
from labkit.fieldbus.canopen.identifiers import CobId
from labkit.fieldbus.canopen.indicators import Pattern
from labkit.fieldbus.errors import PlanError

NO_VOICE: Final = "the manager says nothing"


@dataclass(frozen=True)
class Indicators(Watch):
    """The run and the error lamp of every node."""

    def take(self, bench: Bench) -> Reading:
        """The looks at the end in words; `detail` holds the looks over time."""
        trace: Trace = self.run_on(bench)
        detail = {
            name: {
                "network": _coloured(trace.run[name], "green"),
                "module": _coloured(trace.error[name], "red"),
            }
            for name in bench.layout.devices
        }
        run = _grouped(bench, trace.run_lamp, "green")
        error = _grouped(bench, trace.error_lamp, "red")
        return Reading(f"run lamp: {run} · error lamp: {error}", detail=detail)


@dataclass(frozen=True)
class ManagerReport(Measurement):
    """What the manager says of each node of its list, and of others."""

    kind: ClassVar[str] = "scanner report"

    @property
    def of_traffic(self) -> bool:
        """It shows the usual run."""
        return True

    def take(self, bench: Bench) -> Reading:
        """One clause a node."""
        said = bench.trace.said
        if said is None:
            return Reading(NO_VOICE)
        clauses = [f"node {node} {words}" for node, words in said.entries.items()]
        for node in sorted(said.strangers):
            if node == said.node_id:
                clauses.append(f"another node has the manager's own node-ID {node}")
            else:
                clauses.append(f"node {node}, which is not in the list, is there")
        clauses += [
            f"emergency of node {node}: {emergency_words(code)} (0x{code:04X})"
            for node, code in sorted(said.emergencies.items())
        ]
        return Reading("; ".join(clauses) or "the list is empty")

    @property
    def words(self) -> str:
        """As a log names it."""
        return "the manager's report"


@dataclass(frozen=True)
class FrameLog(HeardFrames):
    """Log the frames that one node hears from power-up on."""

    @property
    def key(self) -> str:
        """One for each node."""
        return f"{self.kind}: {self.listener}"

    def _senders(self, frame: Frame) -> Sequence[int]:
        try:
            cob_id = CobId.from_value(frame.identifier)
        except PlanError:
            return ()
        return (cob_id.node,) if cob_id.node is not None and cob_id.kind.sent_by_node else ()

    def _in_words(self, log: Sequence[Heard]) -> list[list[Any]]:
        lines = [LogLine(each.time_s, "can0", each.frame) for each in log if each.frame]
        sentences = iter(decode_log(lines))
        told: list[list[Any]] = []
        for each in log:
            if each.frame is None:
                told.append([each.time_s, "error", error_words(each), True])
                continue
            said = next(sentences)
            told.append([said.time_s, said.frame.identifier_text, said.text, said.trouble])
        return told


def _coloured(looks: Sequence[Look], colour: str) -> list[list[Any]]:
    """From when on it looks how: "green" is steady, "blinking green" a pattern of CiA 303-3."""
    return [[at, _look(pattern, colour)] for at, pattern in looks]


def _look(pattern: Pattern, colour: str) -> str:
    if pattern is Pattern.OFF:
        return "off"
    return colour if pattern is Pattern.ON else f"{pattern.words} {colour}"


def _grouped(bench: Bench, lamp: Callable[[str], Pattern], colour: str) -> str:
    groups: dict[str, list[str]] = {}
    for name in bench.layout.devices:
        groups.setdefault(_look(lamp(name), colour), []).append(name)
    return "; ".join(f"{look}: {', '.join(names)}" for look, names in groups.items())

"""What happened on DeviceNet's bus: frames, indicators, the scanner's reports."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

from labkit.bench.can.traffic import Traffic
from labkit.fieldbus.devicenet.indicators import Indicator


class EntryState(Enum):
    """What the scanner says of one device of its scan list; the values are our own words."""

    NOT_ASKED = "not asked yet"
    ASKED = "asked, waiting for its answer"
    OK = "OK"
    IDLE = "idle: it is asked without output data"
    NO_ANSWER = "no answer"
    LOST = "answered before, is silent now"
    SIZES_DIFFER = "sizes differ"
    ANOTHER_PRODUCT = "another product"
    REFUSED = "refuses"


@dataclass(frozen=True, slots=True)
class EntryReport:
    """The scanner's word on one entry from `time_s` (s) on."""

    time_s: float
    state: EntryState
    detail: str = ""

    @property
    def text(self) -> str:
        """The report as a trainee reads it."""
        return f"{self.state.value}: {self.detail}" if self.detail else self.state.value


Look = tuple[float, Indicator]


@dataclass(frozen=True, slots=True)
class Trace(Traffic):
    """All that happened from power-up to `duration_s` (s).

    `network` and `module` give, by device name, the looks of the two indicators as they change;
    `said` what happened at a device, in sentences; `driven` its output bytes as they change (what
    its terminals do); `entries`, by node address, the scanner's reports (empty without a scanner).
    """

    network: Mapping[str, tuple[Look, ...]]
    module: Mapping[str, tuple[Look, ...]]
    said: Mapping[str, tuple[tuple[float, str], ...]]
    driven: Mapping[str, tuple[tuple[float, bytes], ...]]
    entries: Mapping[int, tuple[EntryReport, ...]]

    def network_status(self, name: str, time_s: float | None = None) -> Indicator:
        """How the network status indicator of a device looks at a time, by default at the end."""
        return _look_at(self.network[name], self._time(time_s))

    def module_status(self, name: str, time_s: float | None = None) -> Indicator:
        """How the module status indicator of a device looks at a time, by default at the end."""
        return _look_at(self.module[name], self._time(time_s))

    def outputs_on(self, name: str, time_s: float | None = None) -> bool:
        """Whether any output of a device is on at a time, by default at the end."""
        driven = self.driven[name]
        at = bisect_right([time for time, _ in driven], self._time(time_s))
        return bool(at) and any(driven[at - 1][1])

    def report(self, address: int, time_s: float | None = None) -> EntryReport:
        """What the scanner says of one entry at a time, by default at the end."""
        reports = self.entries[address]
        at = bisect_right([each.time_s for each in reports], self._time(time_s))
        return reports[max(0, at - 1)]


def _look_at(looks: tuple[Look, ...], time_s: float) -> Indicator:
    at = bisect_right([time for time, _ in looks], time_s)
    return looks[at - 1][1] if at else Indicator.OFF

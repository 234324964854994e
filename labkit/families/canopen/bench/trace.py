"""What happened on CANopen's bus: frames, lamps, what the manager says."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass

from labkit.bench.can.traffic import Traffic
from labkit.fieldbus.canopen.indicators import Pattern

Look = tuple[float, Pattern]


@dataclass(frozen=True, slots=True)
class Said:
    """What the manager has to say at the end.

    `entries` has words by the node-ID of its list; `strangers` are node-IDs that are not in it, or
    its own, and were heard; `emergencies` the codes that nodes have sent and not taken back.
    """

    node_id: int
    entries: Mapping[int, str]
    strangers: tuple[int, ...]
    emergencies: Mapping[int, int]


@dataclass(frozen=True, slots=True)
class Trace(Traffic):
    """All that happened from power-up to `duration_s` (s).

    `run` and `error` give, by device name, the looks of the two lamps as they change. `said` is
    None where no manager came up.
    """

    run: Mapping[str, tuple[Look, ...]]
    error: Mapping[str, tuple[Look, ...]]
    said: Said | None

    def run_lamp(self, name: str, time_s: float | None = None) -> Pattern:
        """How a device's run lamp looks at a time, by default at the end."""
        return _look_at(self.run[name], self._time(time_s))

    def error_lamp(self, name: str, time_s: float | None = None) -> Pattern:
        """How a device's error lamp looks at a time, by default at the end."""
        return _look_at(self.error[name], self._time(time_s))


def _look_at(looks: tuple[Look, ...], time_s: float) -> Pattern:
    at = bisect_right([time for time, _ in looks], time_s)
    return looks[at - 1][1] if at else Pattern.OFF

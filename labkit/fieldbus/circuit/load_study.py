"""One wiring, many load patterns: the voltage at every load, quickly, again and again."""

import math
from collections.abc import Sequence

from labkit.fieldbus.circuit.elements import CurrentSource
from labkit.fieldbus.circuit.errors import CircuitError, UnfedLoadError, listed
from labkit.fieldbus.circuit.loads import CurrentLoad
from labkit.fieldbus.circuit.network import Circuit
from labkit.fieldbus.circuit.solve import solve


class LoadStudy:
    """The wiring of `circuit`, prepared once; `voltages` then takes new currents for its loads.

    `loads` names the loads in the order in which currents are given. Every load must be a
    CurrentLoad without a dropout; raises CircuitError for others, and what `solve` raises.
    """

    def __init__(self, circuit: Circuit) -> None:
        loads = [e for e in circuit.elements if isinstance(e, CurrentLoad)]
        varying = [f.element for f in circuit.layout.feeds if f.element not in loads]
        unfit = [e for e in (*varying, *loads) if not _fixed(e)]
        if unfit:
            raise CircuitError(
                f"{unfit[0].name!r} changes its current with its voltage; a load study takes "
                "current loads without a dropout, so solve this circuit instead."
            )
        solve(circuit)
        layout = circuit.layout
        self.loads = tuple(load.name for load in loads)
        ends = [tuple(layout.index[end] for end in load.ends) for load in loads]
        self._ends = [(layout.group[a], layout.group[b]) for a, b in ends]
        self._rises = [layout.offset[a] - layout.offset[b] for a, b in ends]
        self._solver = circuit.wiring
        self._drive = [0.0] * layout.groups
        for feed in layout.feeds:
            if isinstance(feed.element, CurrentSource):
                self._drive[feed.plus] += feed.element.ampere
                self._drive[feed.minus] -= feed.element.ampere
        cut_off = [
            load.name
            for load, (a, b) in zip(loads, self._ends, strict=True)
            if layout.part[a] != layout.part[b]
        ]
        if cut_off:
            raise UnfedLoadError(
                f"No closed path leads through {listed(cut_off)}: one side is cut "
                "off from the supply; close the break or take the load off.",
                tuple(cut_off),
            )

    def voltages(self, amperes: Sequence[float]) -> list[float]:
        """The voltage across each load, V, when they draw `amperes` (A, in the order of `loads`).

        Raises CircuitError for currents that are no numbers from 0 up, one a load, and
        UnfedLoadError when a load that draws has no voltage left.
        """
        self._check(amperes)
        drive = self._drive.copy()
        for (plus, minus), ampere in zip(self._ends, amperes, strict=True):
            drive[plus] -= ampere
            drive[minus] += ampere
        level = self._solver.voltages(drive)
        volts = [
            level[plus] - level[minus] + rise
            for (plus, minus), rise in zip(self._ends, self._rises, strict=True)
        ]
        if volts and not min(volts) > 0:
            self._check_fed(volts, amperes)
        return volts

    def _check(self, amperes: Sequence[float]) -> None:
        usable = (
            len(amperes) == len(self.loads)
            and set(map(type, amperes)) <= {int, float}
            and (not amperes or (all(map(math.isfinite, amperes)) and min(amperes) >= 0))
        )
        if not usable:
            raise CircuitError(
                f"The study needs {len(self.loads)} currents in A, each 0 or more, one for each "
                f"of its loads, but got {amperes!r}."
            )

    def _check_fed(self, volts: list[float], amperes: Sequence[float]) -> None:
        starved = tuple(
            name
            for name, volt, ampere in zip(self.loads, volts, amperes, strict=True)
            if ampere > 0 and not volt > 0
        )
        if starved:
            raise UnfedLoadError(
                f"The network cannot feed {listed(starved)}: at these currents no "
                "voltage is left across the load; lower the currents or mend the path.",
                starved,
            )


def _fixed(element: object) -> bool:
    if isinstance(element, CurrentLoad):
        return not element.dropout_volt
    return isinstance(element, CurrentSource)

"""The bench: a set-up, the faults in it, how it stands now, and what its instruments read."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Final

from labkit.bench.ears import Ears
from labkit.bench.faults import Fault, Loose, checked
from labkit.bench.layout import Layout
from labkit.bench.live import NOTHING, Live, Potentials
from labkit.bench.meter import LIVE_REFUSAL, Shown, amperes_shown, ohms_shown, on_edge, volts_shown
from labkit.bench.setup import Setup
from labkit.bench.signals import Signals
from labkit.bench.situation import Situation, Terminal
from labkit.bench.wiring import Wiring
from labkit.fieldbus.circuit import all_resistances, resistance

RUN_S: Final = 6.0
"""Seconds of bus that the bench plays after power-up: self-test, two checks, and some traffic."""
LONG_RUN_S: Final = 20.0
"""Seconds of a longer watch: time for a loose contact to go, for time-outs, and for all to come
back. A device takes up to 4.5 s to be scanned again: self-test, two checks, the scanner's wait."""


@dataclass(frozen=True)
class Bench:
    """A network as built. Equal benches show equal things; an action makes another bench."""

    setup: Setup
    faults: frozenset[Fault] = frozenset()
    situation: Situation = field(default_factory=Situation)

    def __post_init__(self) -> None:
        object.__setattr__(self, "faults", checked(self.faults, self.setup.layout))
        for connector in self.situation.unplugged:
            self.layout.connector(connector)

    @property
    def layout(self) -> Layout:
        """Connectors and pieces."""
        return self.setup.layout

    def with_faults(self, faults: Iterable[Fault]) -> Bench:
        """The same bench with other faults."""
        return replace(self, faults=frozenset(faults))

    def standing(self, situation: Situation) -> Bench:
        """The same bench in another situation."""
        return replace(self, situation=situation)

    def alike(self, wired: Bench) -> Bench:
        """The same bench, with the voltages and ears of one that is wired alike.

        They are worked out on that bench, once for all that are alike. The faults of the two may
        differ only in what the wiring does not show: switches, sizes, programs, scan lists.
        """
        same = replace(self)
        object.__setattr__(same, "_wired", wired)
        return same

    def knowing(self, trace: Any) -> Bench:
        """The same bench with its run, played already."""
        same = self.alike(self._alike)
        same.__dict__["trace"] = trace
        return same

    @property
    def _alike(self) -> Bench:
        found: Bench = self.__dict__.get("_wired", self)
        return found

    def after(self, seconds: float) -> Bench:
        """The same bench so much later.

        Only a loose contact goes by the clock: without one, what was worked out holds on, and the
        next reading need not wait for it again.
        """
        later = self.standing(self.situation.at(self.situation.clock_s + seconds))
        if not any(isinstance(fault, Loose) for fault in self.faults):
            known = {name: self.__dict__[name] for name in _WORKED_OUT if name in self.__dict__}
            later.__dict__.update(known)
        return later

    def forget(self) -> None:
        """Let go what was worked out: whoever asks again waits for it again."""
        for name in _WORKED_OUT:
            self.__dict__.pop(name, None)

    @cached_property
    def wiring(self) -> Wiring:
        """Its conductors."""
        return Wiring(self.layout, self.faults, self.situation)

    @cached_property
    def live(self) -> Live | None:
        """Its potentials; None with power off."""
        if self._alike is not self:
            return self._alike.live
        return Live(self.wiring) if self.situation.power else None

    def ohms(self, a: Terminal, b: Terminal) -> Shown:
        """The ohmmeter between two terminals; refused while the bench is live."""
        nodes = self.wiring.node(a), self.wiring.node(b)
        if self.situation.power:
            return Shown(LIVE_REFUSAL, None)
        if nodes not in self._known_ohms:
            # Whoever measures here measures at the other terminals next: all are one calculation.
            self.foresee(
                terminal for probe in (a, b) for terminal in probe.row(self.layout.conductors)
            )
        ohm = self._known_ohms[nodes]
        # There the last figure hangs on the circuit that was worked out: it is that of the whole.
        return ohms_shown(resistance(self.wiring.dead, *nodes) if on_edge(ohm) else ohm)

    def foresee(self, terminals: Iterable[Terminal]) -> None:
        """Work out the resistance of every pair at once: far quicker than one by one."""
        if not self.situation.power:
            nodes = [self.wiring.node(terminal) for terminal in terminals]
            self._known_ohms.update(all_resistances(self.wiring.probed, nodes))

    @cached_property
    def _known_ohms(self) -> dict[tuple[str, str], float]:
        return {} if self._alike is self else self._alike._known_ohms

    def volts(self, a: Terminal, b: Terminal) -> Shown:
        """DC volts of `a` above `b` on the idle bus; where nothing connects them, 0."""
        one, two = self.wiring.node(a), self.wiring.node(b)
        return volts_shown(self.live.metered(one, two) if self.live else 0.0)

    @property
    def potentials(self) -> Potentials:
        """Every potential on the idle bus; none with power off."""
        return self.live.idle if self.live else NOTHING

    def supply_current(self, supply: str) -> Shown:
        """What a supply gives, as its display or a clamp meter shows it, A."""
        self.layout.supply(supply)
        return amperes_shown(self.live.supply_currents[supply] if self.live else 0.0)

    def landed(self, connector: str) -> tuple[int, ...]:
        """What is seen in an opened connector: the terminal of each conductor, 0 for none."""
        self.layout.connector(connector)
        return self.wiring.landed(connector)

    @cached_property
    def ears(self) -> Ears:
        """Who hears whom, were all set to the network's data rate."""
        if self._alike is not self:
            return self._alike.ears
        return Signals(self.live).ears if self.live else Ears({})

    @cached_property
    def devices(self) -> tuple[Any, ...]:
        """The devices as they stand on the bus now, as the family's own objects."""
        return self.setup.devices_on(self)

    @cached_property
    def trace(self) -> Any:
        """What happens on the bus in the first seconds after power comes: the family's record."""
        return self._run(RUN_S)

    @cached_property
    def long_trace(self) -> Any:
        """The same for a longer time, `LONG_RUN_S`."""
        return self._run(LONG_RUN_S)

    def _run(self, seconds: float) -> Any:
        return self.setup.run(self, self.later(seconds), seconds)

    def later(self, seconds: float) -> list[tuple[float, Bench]]:
        """How it stands from when on within a run, s after power-up: loose contacts come and go."""
        return [(at, self._later(at)) for at in self._loose_moments(seconds)]

    def _loose_moments(self, seconds: float) -> list[float]:
        """When a loose contact opens or closes within a run, s after power-up."""
        moments: set[float] = set()
        for fault in self.faults:
            if isinstance(fault, Loose):
                begin = -(self.situation.clock_s % fault.every_s)
                while begin < seconds:
                    moments |= {begin + fault.every_s - fault.open_s, begin + fault.every_s}
                    begin += fault.every_s
        return sorted(round(at, 6) for at in moments if 0 < at < seconds)

    def _later(self, seconds: float) -> Bench:
        # A millisecond on: at the very moment rounding would decide.
        return self.standing(self.situation.at(self.situation.clock_s + seconds + 1e-3))

    def busy_volts(self, a: Terminal, b: Terminal) -> Shown:
        """DC volts of `a` above `b` with traffic on the bus: the mean over the run's last second.

        U = U_idle + Σ d_k · (U_k − U_idle), with U_k while a device drives one way and d_k the
        share of time in which it does.
        """
        nodes = self.wiring.node(a), self.wiring.node(b)
        idle = self.potentials.between(*nodes)
        if self.live is None:
            return volts_shown(idle)
        moved = (
            share * (self.live.driven(name, up=up).between(*nodes) - idle)
            for (name, up), share in self.driven_shares.items()
        )
        return volts_shown(idle + math.fsum(moved))

    def play(self) -> None:
        """Work out beforehand what a busy bus shows: the traffic, and the levels of each driver."""
        if self.live is not None:
            for name, up in self.driven_shares:
                self.live.driven(name, up=up)

    @cached_property
    def driven_shares(self) -> dict[tuple[str, bool], float]:
        """Share of the last second in which each device drives the pair up or down, 0 to 1."""
        return self.setup.driven_shares(self.trace, RUN_S - 1)


_WORKED_OUT: Final = tuple(n for n, v in vars(Bench).items() if isinstance(v, cached_property))

"""The bench: a set-up, the faults in it, how it stands now, and what its instruments read."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import cached_property

from labkit.bench.faults import (
    AddressSet,
    Babbling,
    DeviceDead,
    Fault,
    IoSizes,
    RateSet,
    ScanListAs,
    checked,
)
from labkit.bench.layout import Layout
from labkit.bench.live import NOTHING, Live, Potentials
from labkit.bench.meter import LIVE_REFUSAL, Shown, amperes_shown, ohms_shown, volts_shown
from labkit.bench.setup import Setup
from labkit.bench.signals import Signals
from labkit.bench.situation import Situation, Terminal
from labkit.bench.station_on_bus import BusDevice, Ears, Master
from labkit.bench.wiring import Wiring
from labkit.fieldbus.circuit import all_resistances, resistance


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

    @cached_property
    def wiring(self) -> Wiring:
        """Its conductors."""
        return Wiring(self.layout, self.faults, self.situation)

    @cached_property
    def live(self) -> Live | None:
        """Its potentials; None with power off."""
        return Live(self.wiring) if self.situation.power else None

    def ohms(self, a: Terminal, b: Terminal) -> Shown:
        """The ohmmeter between two terminals; refused while the bench is live."""
        nodes = self.wiring.node(a), self.wiring.node(b)
        if self.situation.power:
            return Shown(LIVE_REFUSAL, None)
        if nodes not in self._known_ohms:
            self._known_ohms[nodes] = resistance(self.wiring.dead, *nodes)
        return ohms_shown(self._known_ohms[nodes])

    def foresee(self, terminals: Iterable[Terminal]) -> None:
        """Work out the resistance of every pair at once: far quicker than one by one."""
        if not self.situation.power:
            nodes = [self.wiring.node(terminal) for terminal in terminals]
            self._known_ohms.update(all_resistances(self.wiring.dead, nodes))

    @cached_property
    def _known_ohms(self) -> dict[tuple[str, str], float]:
        return {}

    def volts(self, a: Terminal, b: Terminal) -> Shown:
        """DC volts of `a` above `b` on the idle bus; where nothing connects them, 0."""
        nodes = self.wiring.node(a), self.wiring.node(b)
        return volts_shown(self.potentials.between(*nodes))

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
        return Signals(self.live).ears if self.live else Ears({})

    @cached_property
    def devices(self) -> tuple[BusDevice, ...]:
        """The devices as they stand on the bus now."""
        powered = self.live.powered if self.live else frozenset()
        addresses = {f.device: f.address for f in self.faults if isinstance(f, AddressSet)}
        rates = {f.device: f.rate for f in self.faults if isinstance(f, RateSet)}
        sizes = {f.device: f for f in self.faults if isinstance(f, IoSizes)}
        lifeless = {f.device for f in self.faults if isinstance(f, DeviceDead)}
        babbling = {f.device for f in self.faults if isinstance(f, Babbling)}
        found = []
        for name, device in self.layout.devices.items():
            equipment = self.setup.equipment[name]
            if name in sizes:
                new = sizes[name]
                equipment = replace(
                    equipment, input_bytes=new.input_bytes, output_bytes=new.output_bytes
                )
            found.append(
                BusDevice(
                    name,
                    addresses.get(name, device.address or 0),
                    rates.get(name, self.setup.plan.data_rate),
                    equipment,
                    powered=name in powered,
                    dead=name in lifeless,
                    babbling=name in babbling,
                )
            )
        return tuple(found)

    @property
    def master(self) -> Master:
        """The scanner with the scan list that it holds."""
        lists = [fault.entries for fault in self.faults if isinstance(fault, ScanListAs)]
        entries = lists[0] if lists else self.setup.entries
        return Master(self.setup.scanner, entries, self.setup.scan_every_ms)

"""What the frames on the bus depend on: who is powered, how it is set, and who hears whom.

The wiring side of the bench makes an `Ears`; `labkit.bench.traffic` plays the protocol on it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from labkit.fieldbus.devicenet.connections import ConnectionKind
from labkit.fieldbus.devicenet.scanlist import ScanEntry


@dataclass(frozen=True, slots=True)
class Equipment:
    """What a device is, whatever address it is set to: identity and I/O sizes in bytes.

    `kind` is the connection that it is made for. Vendor id and serial number are invented.
    """

    vendor: int
    serial: int
    input_bytes: int = 1
    output_bytes: int = 0
    kind: ConnectionKind = ConnectionKind.POLL


@dataclass(frozen=True, slots=True)
class BusDevice:
    """One device as it stands on the bus now.

    `address` 0 to 63 and `rate` in kbit/s as its switches are set, which may differ from the plan.
    `dead`: its electronics do nothing, whatever its supply. `babbling`: it sends one frame after
    another without being asked. `powered`: it has between 11 and 25 V, the right way round.
    """

    name: str
    address: int
    rate: int
    equipment: Equipment
    powered: bool = True
    dead: bool = False
    babbling: bool = False


@dataclass(frozen=True, slots=True)
class Ears:
    """Who hears whom, as the wiring lets them.

    `hears[talker, listener]`: the listener reads every bit of the talker right at its sample
    point, were both set to the same rate; a pair left out does not hear. `stuck` names the devices
    that read a dominant level though nobody drives the bus.
    """

    hears: Mapping[tuple[str, str], bool]
    stuck: frozenset[str] = frozenset()

    @classmethod
    def groups(cls, *groups: Iterable[str], stuck: Iterable[str] = ()) -> Ears:
        """Ears where everyone in a group hears everyone in it, and nobody outside.

        >>> Ears.groups(["scanner", "valve"], ["lamp"]).hear("lamp", "valve")
        False
        """
        pairs = {
            (talker, listener): True
            for group in map(tuple, groups)
            for talker in group
            for listener in group
        }
        return cls(pairs, frozenset(stuck))

    def hear(self, talker: str, listener: str) -> bool:
        """Whether `listener` reads `talker`."""
        return talker == listener or self.hears.get((talker, listener), False)


@dataclass(frozen=True, slots=True)
class Master:
    """The scanner's name on the bench and the scan list that it holds."""

    name: str
    scan_list: tuple[ScanEntry, ...]
    scan_every_ms: float = 20.0

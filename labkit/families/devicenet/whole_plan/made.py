"""A whole plan as it would be made: every length, switch and entry a value that can be mended."""

from __future__ import annotations

from dataclasses import dataclass, replace

from labkit.bench.bench import Bench
from labkit.bench.faults import Fault, TerminatorExtra, TerminatorMissing
from labkit.bench.situation import Situation
from labkit.doors.plans import LEFT_END, RIGHT_END, Site, WholePlan
from labkit.families.devicenet.bench.equipment import Equipment
from labkit.families.devicenet.bench.faults import RateSet
from labkit.families.devicenet.bench.setup import Setup
from labkit.fieldbus.devicenet.connections import ConnectionKind
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap
from labkit.fieldbus.devicenet.scanlist import ScanEntry
from labkit.fieldbus.errors import PlanError

ENDS = (LEFT_END, RIGHT_END)


@dataclass(frozen=True, slots=True)
class MadeDevice:
    """A device with its drop, its switches, its entry of the scan list; `reaches`: it is plugged.

    `produces` and `consumes` are its own I/O sizes in bytes, `input_bytes` and `output_bytes` those
    of its entry. The program's outputs for it begin at byte `program_at`, the scanner takes those
    from byte `outputs_at` on. The program reads its inputs from byte `reads_at` on, and the scanner
    puts them from byte `inputs_at` on.
    """

    name: str
    at: float
    drop: float
    current: float
    address: int
    rate: int
    produces: int
    consumes: int
    listed: bool
    input_bytes: int
    output_bytes: int
    program_at: int
    outputs_at: int
    reads_at: int
    inputs_at: int
    reaches: bool


@dataclass(frozen=True, slots=True)
class Made:
    """A plan as it would be made. Equal ones show equal things."""

    pieces: tuple[tuple[str, float], ...]
    devices: tuple[MadeDevice, ...]
    scanner: str
    supply_at: float
    rating: float
    terminators: frozenset[str]
    keep_free: tuple[int, ...]

    @property
    def rate(self) -> int:
        """The data rate set at the scanner, kbit/s: that of the network."""
        return self.device(self.scanner).rate

    @property
    def asked(self) -> tuple[MadeDevice, ...]:
        """The devices beside the scanner."""
        return tuple(each for each in self.devices if each.name != self.scanner)

    def device(self, name: str) -> MadeDevice:
        """The device of that name."""
        return next(each for each in self.devices if each.name == name)

    def with_device(self, name: str, **changes: object) -> Made:
        """The same with a device that is changed."""
        changed = replace(self.device(name), **changes)  # type: ignore[arg-type]
        return replace(self, devices=tuple(changed if e.name == name else e for e in self.devices))

    @property
    def network(self) -> Network:
        """The network that the rules are asked about."""
        return Network(
            self.rate,
            tuple(Segment(cable, length) for cable, length in self.pieces),
            tuple(
                Tap(each.at, Drop(each.drop, (Device(each.name, each.current, each.address),)))
                for each in self.devices
            ),
            (Supply(self.supply_at, rating=self.rating),),
        )

    @property
    def bench(self) -> Bench:
        """The bench, switched on. What is wrong by plan is there as a fault is."""
        faults: list[Fault] = [
            TerminatorMissing(end) for end in ENDS if end not in self.terminators
        ]
        faults += [TerminatorExtra(name) for name in sorted(self.terminators.difference(ENDS))]
        faults += [RateSet(e.name, e.rate) for e in self.devices if e.rate != self.rate]
        unplugged = frozenset(each.name for each in self.devices if not each.reaches)
        return Bench(self._setup, frozenset(faults), Situation(power=True, unplugged=unplugged))

    @property
    def _setup(self) -> Setup:
        equipment = {
            each.name: Equipment(900, 50_000 + number, each.produces, each.consumes)
            for number, each in enumerate(self.devices)
        }
        return Setup(self.network, self.scanner, equipment, self.scan_list, outputs=True)

    @property
    def scan_list(self) -> tuple[ScanEntry, ...]:
        """An address has one place in a scan list: of two devices on it the first stands there."""
        entries: dict[int, ScanEntry] = {}
        for each in self.asked:
            if each.listed:
                entry = ScanEntry(
                    each.address, ConnectionKind.POLL, each.input_bytes, each.output_bytes
                )
                entries.setdefault(each.address, entry)
        return tuple(entries[address] for address in sorted(entries))


def made_of(site: Site, plan: WholePlan) -> Made:
    """A plan for a site. Raises `PlanError` for what nobody could build."""
    if len(plan.cables) != len(site.pieces):
        raise PlanError("Every piece of the trunk needs a cable.")
    if not 0 <= plan.supply_at <= site.length:
        raise PlanError(
            f"The supply at {plan.supply_at:g} m is not on the trunk, which runs from 0 to "
            f"{site.length:g} m."
        )
    devices = []
    for each in site.devices:
        planned = plan.devices[each.name]
        devices.append(
            MadeDevice(
                each.name, each.at, planned.drop, each.current, planned.address, planned.rate,
                each.input_bytes, each.output_bytes, planned.listed, planned.input_bytes,
                planned.output_bytes, each.program_at, planned.outputs_at,
                each.reads_at, planned.inputs_at, planned.drop >= each.way,
            )
        )  # fmt: skip
    made = Made(
        tuple((cable, piece.length) for cable, piece in zip(plan.cables, site.pieces, strict=True)),
        tuple(devices),
        site.scanner,
        plan.supply_at,
        plan.rating,
        plan.terminators,
        site.keep_free,
    )
    _require_buildable(made)
    return made


def _require_buildable(made: Made) -> None:
    names = {each.name for each in made.devices}
    for place in sorted(made.terminators.difference(ENDS, names)):
        raise PlanError(f"There is no place called '{place}' for a terminator.")
    # The network and its entries know the rest: cables, rates, addresses, sizes.
    _ = made.network, made.scan_list

"""A real Modbus line: its parts, what is set at its devices, what the master says of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Final

from labkit.bench.bench import Bench
from labkit.bench.rig.by_hand import HandWork
from labkit.bench.rig.deck import Said
from labkit.bench.rig.parts import Between, Parts
from labkit.bench.setup import Setup
from labkit.doors.rig import SCANNER
from labkit.families.modbus.bench.faults import AddressSet, RateSet
from labkit.families.modbus.bench.playing import Count, Trace

ADDRESS: Final = "address"
RATE: Final = "rate"
_ANSWERS: Final = "answers"
_SILENT: Final = "no answer"
_SOMETIMES: Final = "now and then"
_RATES: Final = (9_600, 19_200)
"""Every device has both (V1.02, 3.2)."""


class ModbusRig:
    """See `labkit.doors.rig.FamilyRig`."""

    kinds: Mapping[str, str] = MappingProxyType(
        {
            ADDRESS: "a device set to another one's address",
            RATE: "a device at another bit rate",
        }
    )
    parts = Parts(
        inputs=Between(1.0, 10 / 3, "at most the unit loads planned, EIA/TIA-485, from memory")
    )
    words: Mapping[str, tuple[str, ...]] = MappingProxyType(
        {SCANNER: (_ANSWERS, _SILENT, _SOMETIMES)}
    )

    def work(self, setup: Setup) -> Iterator[HandWork]:
        """Settings of devices: not those of the master, which has them in its program.

        Other characters are not among them: the master does not tell them from another rate.
        """
        layout = setup.layout
        asked = [name for name in layout.devices if name != setup.scanner]
        for name, other in zip(asked, (*asked[1:], *asked[:1]), strict=True):
            planned, there = (layout.device(each).address for each in (name, other))
            if there is not None and name != other:
                yield _set(ADDRESS, AddressSet(name, there), "address", there, planned)
            rate = round(setup.plan.data_rate * 1000)
            slower = next(each for each in _RATES if each != rate)
            yield _set(RATE, RateSet(name, slower), "bit rate", slower, rate)

    def said(self, bench: Bench) -> Said:
        """What the master says of each device that it polls; lamps are each maker's own."""
        names = {device.address: name for name, device in bench.layout.devices.items()}
        trace: Trace = bench.trace
        counts = trace.counts.get(bench.setup.scanner, {})
        return {
            (SCANNER, names[address]): _word(count)
            for address, count in counts.items()
            if address in names
        }


def _word(count: Count) -> str:
    if not count.answered:
        return _SILENT
    spoilt = count.timeouts or count.bad_crcs or count.bad_characters
    return _SOMETIMES if spoilt else _ANSWERS


def _set(
    kind: str, fault: AddressSet | RateSet, what: str, value: int, planned: int | None
) -> HandWork:
    return HandWork(
        kind,
        fault,
        f"At {fault.device}, set the {what} {value}, at its switches or keys. Many devices take it "
        "over only when power comes.",
        f"At {fault.device}, set the {what} {planned} again.",
    )

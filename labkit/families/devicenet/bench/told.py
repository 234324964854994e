"""What DeviceNet's traffic shows, in a line, for somebody who reads it out."""

from __future__ import annotations

from typing import Final

from labkit.bench.bench import Bench
from labkit.bench.can.frame_log import heard
from labkit.families.devicenet.bench.station import meaning_of
from labkit.fieldbus.devicenet.identifiers import Purpose

_RESPONSE: Final = 0x80
"""Bit 7 of a duplicate check's first byte: an answer, not a question."""


def module_indicators(bench: Bench) -> str:
    """How the module status indicator of each device looks."""
    looks: dict[str, list[str]] = {}
    for name in bench.layout.devices:
        looks.setdefault(bench.trace.module_status(name).value, []).append(name)
    if len(looks) == 1:
        return f"{next(iter(looks))}: all"
    return "; ".join(f"{look}: {', '.join(names)}" for look, names in looks.items())


def duplicate_checks(bench: Bench) -> str:
    """The node addresses that are asked for at power-up, as the scanner's log has them."""
    asking: dict[int, set[bytes]] = {}
    for each in heard(bench.trace, bench.setup.scanner, whole=False):
        if each.frame is None or each.frame.extended:
            continue
        meaning = meaning_of(each.frame.identifier)
        if meaning is None or meaning.purpose is not Purpose.DUPLICATE_CHECK:
            continue
        if meaning.address is not None and not each.frame.data[0] & _RESPONSE:
            asking.setdefault(meaning.address, set()).add(each.frame.data)
    if not asking:
        return "none"
    return "asked for: " + ", ".join(
        f"{address}{f' by {len(who)} devices' if len(who) > 1 else ''}"
        for address, who in sorted(asking.items())
    )

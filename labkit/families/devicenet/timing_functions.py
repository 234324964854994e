"""Time on the bus as formulas ask for it: frame lengths, scans, bus load, response times, bits.

A scan list is a list of groups: {"address": 5, "kind": "poll", "input": 2, "output": 1}; `kind` is
"poll", "bit-strobe", "change of state" or "cyclic", the last two with `interval` in ms. Bytes are
those of the device's data; what is left out is 0.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import Any, Final

from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.length import exact_bits, unstuffed_bits, worst_case_bits
from labkit.fieldbus.can.response import Message, MessageSet, Response
from labkit.fieldbus.can.timing import BitTiming, BusDelays
from labkit.fieldbus.devicenet.connections import ConnectionKind
from labkit.fieldbus.devicenet.scanlist import ScanEntry, ScanList

Entries = Sequence[Mapping[str, Any]]
_ENTRY: Final = ("address", "kind", "input", "output", "interval")
_KINDS: Final = {kind.value: kind for kind in ConnectionKind}


def frame_bits(data_bytes: int) -> int:
    """Bits of a frame without stuff bits, 47 + 8 n, interframe space included (ISO 11898-1)."""
    return unstuffed_bits(data_bytes)


def worst_frame_bits(data_bytes: int) -> int:
    """Most bits of a frame: 8 n + 47 + ⌊(34 + 8 n − 1) / 4⌋ (Davis et al. 2007)."""
    return worst_case_bits(data_bytes)


def exact_frame_bits(identifier: int, data: Iterable[int]) -> int:
    """Bits of this very frame, its own stuff bits and the interframe space included."""
    return exact_bits(Frame(identifier, bytes(data)))


def scan_bits(entries: Entries, stuffed: bool = False) -> int:
    """Bits of the frames of one scan (polls and strobe): without stuff bits, or with the most."""
    bits = worst_case_bits if stuffed else unstuffed_bits
    # The rate does not matter for counting.
    return sum(bits(len(frame.data)) for frame in _scan(entries, 125, 0.0).scan_frames)


def shortest_scan(entries: Entries, rate: int, delay: float = 0.0) -> float:
    """ms from scan to scan without any stuff bit or report; `delay` is the pause between, ms."""
    return _scan(entries, rate, delay).scan_time.shortest_ms


def longest_scan(entries: Entries, rate: int, delay: float = 0.0) -> float:
    """ms from scan to scan with the most stuff bits, and all reports that fall into it."""
    return _scan(entries, rate, delay).scan_time.longest_ms


def bus_load(entries: Entries, rate: int, delay: float = 0.0) -> float:
    """Per cent of the longest scan in which the bus is busy; of reports alone, Σ C / T."""
    return 100 * _scan(entries, rate, delay).bus_load


def _scan(entries: Entries, rate: int, delay: float) -> ScanList:
    found = [_entry(each) for each in entries]
    taken = {entry.address for entry in found}
    # The scanner's own address plays no part in any length.
    master = next((address for address in range(64) if address not in taken), None)
    if master is None:
        raise ValueError("the scan list takes all 64 node addresses; the scanner needs one too")
    return ScanList(master, rate, tuple(found), delay)


def _entry(fields: Mapping[str, Any]) -> ScanEntry:
    if not isinstance(fields, Mapping):
        raise ValueError(f"a scan list is a list of groups, not of {fields!r}")
    unknown = [name for name in fields if name not in _ENTRY]
    if unknown or "address" not in fields or fields.get("kind") not in _KINDS:
        raise ValueError(
            f"an entry has {', '.join(_ENTRY)}, its kind one of {', '.join(_KINDS)}; "
            f"{dict(fields)} has not"
        )
    return ScanEntry(
        fields["address"],
        _KINDS[fields["kind"]],
        fields.get("input", 0),
        fields.get("output", 0),
        fields.get("interval"),
    )


def worst_response(messages: Entries, rate: float, name: str) -> float:
    """ms from the occasion to send a message until it is received, at worst (Davis et al. 2007).

    `messages`: groups of `name`, `identifier`, `bytes` and `period` (ms). Raises `ValueError`
    where there is no bound.
    """
    worst = _response(messages, rate, name).worst_ms
    if worst is None:
        raise ValueError(f"the bus is so full that '{name}' may wait without end")
    return worst


def worst_blocking(messages: Entries, rate: float, name: str) -> float:
    """ms of the longest frame of lower priority that may just have begun (Davis et al. 2007)."""
    return _response(messages, rate, name).blocking_ms


def _response(messages: Entries, rate: float, name: str) -> Response:
    made = [
        Message(each["name"], each["identifier"], each["period"], each["bytes"])
        for each in messages
    ]
    return MessageSet.of(rate, made).response(name)


def longest_bus(timing: Mapping[str, int], line_ns: float, node_ns: float) -> float:
    """m of bus that the propagation segment covers: prop · quantum = 2 (node + line · length).

    `timing`: a group of `clock` (MHz), `prescaler`, `prop`, `phase1`, `phase2` (quanta). `line_ns`:
    ns per metre of cable; `node_ns`: driver and receiver of one node, one way. Source: Hartwich and
    Bassemir, 6th International CAN Conference 1999 (from memory).
    """
    bit = BitTiming(
        timing["clock"], timing["prescaler"], timing["prop"], timing["phase1"], timing["phase2"]
    )
    return bit.max_bus_length_m(BusDelays(line_ns, node_ns))


TIMING_FUNCTIONS: Final[Mapping[str, Any]] = MappingProxyType(
    {
        "bus_load": bus_load,
        "exact_frame_bits": exact_frame_bits,
        "frame_bits": frame_bits,
        "longest_bus": longest_bus,
        "longest_scan": longest_scan,
        "scan_bits": scan_bits,
        "shortest_scan": shortest_scan,
        "worst_blocking": worst_blocking,
        "worst_frame_bits": worst_frame_bits,
        "worst_response": worst_response,
    }
)

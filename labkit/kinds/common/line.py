"""A line that a program runs against: its inputs and outputs through the I/O map and the bus.

What the program wants goes to the scanner, by the bus to whatever answers at the planned node
address, and to that device's terminals; inputs come back the same way. So what is wrong on the line
shows at the program as it would there.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import Any, Final, TypedDict

from labkit.bench.bench import Bench
from labkit.bench.setup import Exchanged
from labkit.bench.situation import Situation
from labkit.kinds.common.bench_setup import setup_of

AS_PLANNED: Final = "as planned"
_Data = tuple[tuple[str, bytes], ...]
"""Bytes of devices, by name."""


class Place(TypedDict):
    """A bit of a device's own data: `byte` counts from its first."""

    device: str
    byte: int
    bit: int


class Condition(TypedDict):
    """A way in which the line can be, for everybody to see: the faults that it `has` then."""

    text: str
    has: list[Any]


class LineData(TypedDict):
    """The bench's set-up, its devices beside the scanner, where operands lie, how it can be.

    `inputs` and `outputs` are by operand; one whose byte belongs to no device is not there.
    `things` says by operand what hangs at each output.
    """

    setup: dict[str, Any]
    devices: list[str]
    inputs: dict[str, Place]
    outputs: dict[str, Place]
    things: dict[str, str]
    conditions: list[Condition]


class Line:
    """The line in one of its conditions, with some devices unplugged.

    `condition` counts `conditions` from 1 on; 0, and what is none, is the line as planned.
    """

    def __init__(self, data: LineData, condition: Any, unplugged: Iterable[str]) -> None:
        self._data = data
        known = type(condition) is int and 0 < condition <= len(data["conditions"])
        faults = data["conditions"][condition - 1]["has"] if known else []
        off = sorted(set(unplugged) & set(data["devices"]))
        self._bench = tuple(json.dumps(each) for each in (data["setup"], faults, off))

    def read(self, terminals: Mapping[str, bool]) -> tuple[dict[str, bool], frozenset[str]]:
        """What the program reads of what stands at the terminals, and the devices that are lost.

        An input of a lost device, with which the scanner exchanges no data, is left out.
        """
        places = self._data["inputs"]
        read = _exchanged(self._bench, _bytes(places, terminals), ()).read
        bits = {
            name: _is_on(read[place["device"]], place)
            for name, place in places.items()
            if place["device"] in read
        }
        return bits, frozenset(self._data["devices"]) - read.keys()

    def moved(self, image: Mapping[str, bool]) -> dict[str, bool]:
        """For each output whether what hangs there is on, with a program's outputs as they are."""
        places = self._data["outputs"]
        driven = _exchanged(self._bench, (), _bytes(places, image)).driven
        return {name: _is_on(driven[place["device"]], place) for name, place in places.items()}


# Somebody who presses buttons makes the same things happen again and again.
@lru_cache(maxsize=512)
def _exchanged(bench: tuple[str, ...], given: _Data, sent: _Data) -> Exchanged:
    made = _bench(*bench)
    return made.setup.exchanged(made, dict(given), dict(sent))


@lru_cache(maxsize=16)
def _bench(setup: str, faults: str, unplugged: str) -> Bench:
    made = setup_of(json.loads(setup))
    found = frozenset(made.catalogue.fault_from_json(each) for each in json.loads(faults))
    return Bench(made, found, Situation(power=True, unplugged=frozenset(json.loads(unplugged))))


def _bytes(places: Mapping[str, Place], image: Mapping[str, bool]) -> _Data:
    """The bits that are on, as the bytes of each device."""
    found: dict[str, bytearray] = {}
    for name, place in places.items():
        held = found.setdefault(place["device"], bytearray())
        held.extend(bytes(max(0, place["byte"] + 1 - len(held))))
        held[place["byte"]] |= image.get(name, False) << place["bit"]
    return tuple((device, bytes(held)) for device, held in found.items())


def _is_on(data: bytes, place: Place) -> bool:
    return len(data) > place["byte"] and bool(data[place["byte"]] >> place["bit"] & 1)

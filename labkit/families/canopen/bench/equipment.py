"""What a CANopen bus's traffic depends on: what each node is and has stored, whom the manager runs.

Vendors, products and data are invented. Process data are digital inputs (0x6000) and outputs
(0x6200) of eight bits each, as CiA 401 has them (from memory): so many bytes in transmit PDO 1, so
many in receive PDO 1.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields, replace
from functools import cached_property, lru_cache
from typing import Any, Final

from labkit.fieldbus.canopen.data_types import DataType
from labkit.fieldbus.canopen.dictionary import Access, Entry, ObjectDictionary
from labkit.fieldbus.canopen.heartbeat import LONGEST_MS, HeartbeatConsumer
from labkit.fieldbus.canopen.pdo import PDO_BYTES, Direction, MappedObject, PdoSettings
from labkit.fieldbus.canopen.sdo import Multiplexor
from labkit.fieldbus.checked import flag, whole
from labkit.fieldbus.errors import PlanError

DIGITAL: Final = 0x0003_0191
"""Device type: profile 401 with digital inputs and outputs (CiA 401, from memory)."""
INPUTS: Final = 0x6000
OUTPUTS: Final = 0x6200
BY_EVENT: Final = 255
_VENDOR: Final = 900
_PRODUCTS: Final = 0x100
EVENT_MS: Final = 200
"""How often a PDO that is sent by event comes all the same (a choice)."""


@dataclass(frozen=True)
class Equipment:
    """What a device is and what is stored in it; its node-ID and bit rate are set at it.

    `heartbeat_ms` is its producer time (0x1017), 0 for none. With `sync` its transmit PDO goes out
    at every SYNC, else by event.
    """

    vendor: int
    product: int
    device_type: int = DIGITAL
    input_bytes: int = 1
    output_bytes: int = 1
    sync: bool = True
    heartbeat_ms: int = 500

    def __post_init__(self) -> None:
        for name in ("vendor", "product", "device_type"):
            what = f"the {name.replace('_', ' ')} number"
            whole(getattr(self, name), what, 0, 0xFFFF_FFFF, "32 bits hold it")
        for name in ("input", "output"):
            what = f"the number of {name} bytes"
            whole(getattr(self, f"{name}_bytes"), what, 0, PDO_BYTES, "one PDO carries them")
        flag(self.sync, "the field 'sync'")
        whole(self.heartbeat_ms, "the producer time", 0, LONGEST_MS, "16 bits hold it, in ms")

    @staticmethod
    def usual(input_bytes: int = 1, output_bytes: int = 1, *, sync: bool = True) -> Equipment:
        """Of which no more is said: those of the same bytes are of one product."""
        product = _PRODUCTS + 16 * input_bytes + output_bytes
        return Equipment(_VENDOR, product, DIGITAL, input_bytes, output_bytes, sync)

    @staticmethod
    def from_json(data: Mapping[str, Any]) -> Equipment:
        """Read what `to_json` wrote. Raises `PlanError`."""
        if set(data) != {item.name for item in fields(Equipment)}:
            raise PlanError("The equipment of a node has other fields than it should.")
        return Equipment(**data)

    def to_json(self) -> dict[str, Any]:
        """As plain JSON."""
        return asdict(self)


@dataclass(frozen=True)
class NodeSet:
    """A node as it stands on the bus: `works` where its electronics do. `place` counts nodes."""

    name: str
    node_id: int
    rate: int
    equipment: Equipment
    works: bool
    place: int

    @cached_property
    def inputs(self) -> bytes:
        """What its inputs read: invented, and other for each node, so that two are told apart."""
        return bytes((17 * self.place + 1 + k) % 256 for k in range(self.equipment.input_bytes))


@dataclass(frozen=True)
class Listed:
    """An entry of the manager's list: what it expects at a node-ID."""

    node: int
    device_type: int
    vendor: int
    product: int
    input_bytes: int
    output_bytes: int

    @staticmethod
    def of(node: int, made: Equipment) -> Listed:
        """The entry of a device as planned."""
        return Listed(
            node, made.device_type, made.vendor, made.product, made.input_bytes, made.output_bytes
        )


@dataclass(frozen=True)
class Managing:
    """The manager: its name, whom it runs, how often it sends SYNC, how long it waits, ms.

    `node_id` is the planned one, whose heartbeat devices watch (0x1016). `consumer_ms` is the time
    in which it, and every device, expects the next heartbeat.
    """

    name: str
    node_id: int
    entries: tuple[Listed, ...]
    sync_ms: int
    consumer_ms: int


@lru_cache(maxsize=512)
def dictionary_of(made: Equipment, node: int, manager: int, consumer_ms: int) -> ObjectDictionary:
    """The object dictionary of a device: identity, heartbeats, PDOs, process data."""
    watched = HeartbeatConsumer(manager, consumer_ms).to_word()
    read, wide = Access.READ_ONLY, DataType.UNSIGNED32
    entries = [
        Entry(Multiplexor(0x1000), "device type", wide, read, made.device_type),
        Entry(Multiplexor(0x1001), "error register", DataType.UNSIGNED8, read, 0),
        Entry(Multiplexor(0x1016, 1), "consumer heartbeat time", wide, default=watched),
        Entry(
            Multiplexor(0x1017),
            "producer heartbeat time",
            DataType.UNSIGNED16,
            default=made.heartbeat_ms,
        ),
        Entry(Multiplexor(0x1018, 1), "vendor", wide, read, made.vendor),
        Entry(Multiplexor(0x1018, 2), "product code", wide, read, made.product),
    ]
    data = (
        (Direction.TRANSMIT, INPUTS, "input", made.input_bytes, read),
        (Direction.RECEIVE, OUTPUTS, "output", made.output_bytes, Access.READ_WRITE),
    )
    for direction, index, word, count, access in data:
        values = [
            Entry(
                Multiplexor(index, at),
                f"{word} byte {at}",
                DataType.UNSIGNED8,
                access,
                0,
                mappable=True,
            )
            for at in range(1, count + 1)
        ]
        entries += [*values, *_pdo_entries(made, direction, node, values)]
    return ObjectDictionary(tuple(entries))


def _pdo_entries(
    made: Equipment, direction: Direction, node: int, values: list[Entry]
) -> list[Entry]:
    """The records of PDO 1: on the identifier of the predefined set, or not used."""
    used = replace(PdoSettings.predefined(direction, 1, node), used=bool(values))
    record, mapped = direction.communication(1), direction.mapping(1)
    wide, byte = DataType.UNSIGNED32, DataType.UNSIGNED8
    found = [
        Entry(Multiplexor(record, 1), "identifier", wide, default=used.identifier_word),
        Entry(
            Multiplexor(record, 2),
            "transmission type",
            byte,
            default=1 if made.sync else BY_EVENT,
        ),
        Entry(Multiplexor(mapped, 0), "number of objects", byte, default=len(values)),
    ]
    if not made.sync:
        event = Entry(Multiplexor(record, 5), "event time", DataType.UNSIGNED16, default=EVENT_MS)
        found.append(event)
    for at, entry in enumerate(values, start=1):
        word = MappedObject.of(entry).to_word()
        found.append(Entry(Multiplexor(mapped, at), f"object {at}", wide, default=word))
    return found

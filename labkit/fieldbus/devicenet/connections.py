"""The predefined master/slave connection set: what each kind of connection puts on the bus.

Which message carries what is on the reference page (IEC 62026-3). From memory of IEC 62026-3:
allocation data, connection instances, time-out of four packet rates, the use of messages 5 and
15 for the change-of-state and cyclic data of a master, and the empty acknowledges.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum, IntFlag

from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.checked import byte_string, whole
from labkit.fieldbus.devicenet.fragments import FRAME_BYTES, explicit_frames, io_frames
from labkit.fieldbus.devicenet.identifiers import Identifier, Purpose, node_address
from labkit.fieldbus.devicenet.messages import (
    ExplicitHeader,
    ExplicitRequest,
    ExplicitResponse,
    strobe_command,
)
from labkit.fieldbus.devicenet.objects import PACKET_RATE_ATTRIBUTE, ObjectClass, Service
from labkit.fieldbus.errors import PlanError

TIMEOUT_PACKETS = 4
"""A connection times out after this many expected packet rates without a message (from memory)."""
EXPLICIT_PACKET_RATE_MS = 2500
"""Expected packet rate of a fresh explicit connection, ms (from memory)."""


class ConnectionKind(Enum):
    """How a master exchanges I/O data with a device."""

    POLL = "poll"
    BIT_STROBE = "bit-strobe"
    CHANGE_OF_STATE = "change of state"
    CYCLIC = "cyclic"


class Allocation(IntFlag):
    """Allocation choice byte: which connections a master takes of a device."""

    EXPLICIT = 0x01
    POLL = 0x02
    BIT_STROBE = 0x04
    CHANGE_OF_STATE = 0x10
    CYCLIC = 0x20
    SUPPRESS_ACKNOWLEDGE = 0x40

    @classmethod
    def of(cls, kind: ConnectionKind) -> "Allocation":
        """The choice bit of an I/O connection kind."""
        return cls[kind.name]

    @property
    def words(self) -> str:
        """The choice as a trainee reads it, such as "explicit, poll"."""
        return ", ".join(name for bit, name in _CHOICE_WORDS.items() if bit in self)


_CHOICE_WORDS = {
    Allocation.EXPLICIT: "explicit",
    Allocation.POLL: "poll",
    Allocation.BIT_STROBE: "bit-strobe",
    Allocation.CHANGE_OF_STATE: "change of state",
    Allocation.CYCLIC: "cyclic",
    Allocation.SUPPRESS_ACKNOWLEDGE: "no acknowledges",
}

CONNECTION_INSTANCE = {
    Allocation.EXPLICIT: 1,
    Allocation.POLL: 2,
    Allocation.BIT_STROBE: 3,
    Allocation.CHANGE_OF_STATE: 4,
    Allocation.CYCLIC: 4,
}
"""Instance of the connection object that each choice creates in the device."""


@dataclass(frozen=True, slots=True)
class BusFrame:
    """One frame as planned or logged: whose identifier, which data, who sends it."""

    identifier: Identifier
    data: bytes
    from_master: bool

    def __post_init__(self) -> None:
        object.__setattr__(self, "data", byte_string(self.data, "the data of a frame", FRAME_BYTES))

    @property
    def pair(self) -> tuple[int, bytes]:
        """The 11-bit identifier and the data."""
        return self.identifier.value, self.data

    @property
    def frame(self) -> Frame:
        """The CAN frame, for its length and its bits on the wire."""
        return Frame(self.identifier.value, self.data)


def allocation(choice: int) -> Allocation:
    """An allocation choice byte, refused where its bits contradict each other.

    Bits 3 and 7 are not served here; change of state and cyclic exclude each other; suppressed
    acknowledges need one of the two.
    """
    whole(choice, "the allocation choice", 1, 255)
    if choice & ~0x77:
        raise PlanError(
            f"allocation choice 0x{choice:02X} has bit 3 or 7 set, which this set does not use; "
            "clear it."
        )
    chosen = Allocation(choice)
    both = Allocation.CHANGE_OF_STATE | Allocation.CYCLIC
    if chosen & both == both:
        raise PlanError(
            "change of state and cyclic are both chosen, but they share one connection; take one."
        )
    if Allocation.SUPPRESS_ACKNOWLEDGE in chosen and not chosen & both:
        raise PlanError(
            "acknowledges are suppressed without a change-of-state or cyclic connection; "
            "clear bit 6 or choose one."
        )
    return chosen


def allocate_request(choice: int, master: int) -> ExplicitRequest:
    """The body by which `master` takes the chosen connections of a device."""
    data = bytes([allocation(choice), node_address(master, "the master's address")])
    return ExplicitRequest(Service.ALLOCATE, ObjectClass.DEVICENET, 1, data)


def release_request(choice: int) -> ExplicitRequest:
    """The body by which a master gives the chosen connections back."""
    whole(choice, "the release choice", 1, 0x7F)
    return ExplicitRequest(Service.RELEASE, ObjectClass.DEVICENET, 1, bytes([choice]))


def packet_rate_request(choice: int, milliseconds: int) -> ExplicitRequest:
    """The body that sets the expected packet rate of one connection, which starts its I/O.

    `milliseconds` is 0 (never time out) to 65535.
    """
    whole(milliseconds, "the expected packet rate in ms", 0, 0xFFFF)
    whole(choice, "the connection's choice bit", 1, 0x7F)
    instance = CONNECTION_INSTANCE.get(Allocation(choice))
    if instance is None:
        raise PlanError(f"choice 0x{choice:02X} is not one connection; set their rates one by one.")
    return ExplicitRequest.set_attribute(
        ObjectClass.CONNECTION, instance, PACKET_RATE_ATTRIBUTE, milliseconds.to_bytes(2, "little")
    )


def request_frames(
    body: ExplicitRequest, address: int, master: int, *, unconnected: bool = False
) -> tuple[BusFrame, ...]:
    """A master's explicit request to a device as frames, fragmented where it is long.

    `unconnected` is for a device that no master has taken yet (allocate and release only).
    """
    purpose = Purpose.UNCONNECTED_REQUEST if unconnected else Purpose.EXPLICIT_REQUEST
    header = ExplicitHeader(node_address(master, "the master's address"))
    return _frames(purpose, address, explicit_frames(header.byte, body.to_bytes()), True)


def response_frames(body: ExplicitResponse, address: int, master: int) -> tuple[BusFrame, ...]:
    """A device's explicit response to its master as frames, fragmented where it is long."""
    header = ExplicitHeader(node_address(master, "the master's address"))
    frames = explicit_frames(header.byte, body.to_bytes())
    return _frames(Purpose.EXPLICIT_RESPONSE, address, frames, False)


def allocation_requests(
    address: int, master: int, packet_rates_ms: Mapping[ConnectionKind, int]
) -> tuple[BusFrame, ...]:
    """All that a master sends to bring one device to I/O, in order.

    Allocate (explicit and every kind named), then one expected packet rate a connection. Each
    waits for the device's response before the next goes out.
    """
    if not packet_rates_ms:
        raise PlanError(
            f"node {address} is given no I/O connection; name a kind and its packet rate in ms."
        )
    choice = Allocation.EXPLICIT
    for kind in packet_rates_ms:
        choice |= Allocation.of(kind)
    frames = request_frames(allocate_request(choice, master), address, master, unconnected=True)
    for kind, rate in packet_rates_ms.items():
        body = packet_rate_request(Allocation.of(kind), rate)
        frames += request_frames(body, address, master)
    return frames


def poll_exchange(address: int, outputs: bytes, inputs: bytes) -> tuple[BusFrame, ...]:
    """Poll command with the device's outputs, poll response with its inputs.

    Each is sent even when it carries no byte; over eight bytes each is fragmented.
    """
    command = _frames(Purpose.POLL_COMMAND, address, io_frames(outputs), True)
    return command + _frames(Purpose.POLL_RESPONSE, address, io_frames(inputs), False)


def strobe_exchange(
    master: int, outputs: Mapping[int, bool], inputs: Mapping[int, bytes]
) -> tuple[BusFrame, ...]:
    """One bit-strobe command for all devices, then each device's response of up to eight bytes.

    `outputs` gives the bit of an address, `inputs` the response of every strobed device.
    """
    node_address(master, "the master's address")
    command = _frames(Purpose.BIT_STROBE_COMMAND, master, (strobe_command(dict(outputs)),), True)
    for address, data in sorted(inputs.items()):
        byte_string(data, f"node {address}'s bit-strobe response", FRAME_BYTES)
        command += _frames(Purpose.BIT_STROBE_RESPONSE, address, (bytes(data),), False)
    return command


def device_report(
    address: int, inputs: bytes, *, acknowledged: bool = True
) -> tuple[BusFrame, ...]:
    """A device's change-of-state or cyclic message, and the master's empty acknowledge."""
    report = _frames(Purpose.CHANGE_OF_STATE, address, io_frames(inputs), False)
    if not acknowledged:
        return report
    return report + _frames(Purpose.MASTER_ACKNOWLEDGE, address, (b"",), True)


def master_report(
    address: int, outputs: bytes, *, acknowledged: bool = True
) -> tuple[BusFrame, ...]:
    """A master's change-of-state or cyclic message, and the device's empty acknowledge."""
    report = _frames(Purpose.POLL_COMMAND, address, io_frames(outputs), True)
    if not acknowledged:
        return report
    return report + _frames(Purpose.POLL_RESPONSE, address, (b"",), False)


def timeout_ms(packet_rate_ms: int) -> int | None:
    """Silence after which a connection times out: four packet rates, ms; None at rate 0."""
    whole(packet_rate_ms, "the expected packet rate in ms", 0, 0xFFFF)
    return TIMEOUT_PACKETS * packet_rate_ms or None


def _frames(
    purpose: Purpose, address: int, datas: tuple[bytes, ...], from_master: bool
) -> tuple[BusFrame, ...]:
    identifier = Identifier.of(purpose, address)
    return tuple(BusFrame(identifier, data, from_master) for data in datas)

"""CAN identifiers of DeviceNet: which message, whose address, and back.

An 11-bit identifier holds a message group, a message number and, but in group 4, a node address
(IEC 62026-3):

    group 1   0 mmmm ssssss    messages 0-15, source address      0x000-0x3FF
    group 2   10 aaaaaa mmm    messages 0-7, an address           0x400-0x5FF
    group 3   11 mmm ssssss    messages 0-6, source address       0x600-0x7BF
    group 4   11111 mmmmmm     messages 0x00-0x2F, no address     0x7C0-0x7EF

0x7F0 to 0x7FF belong to no group and must not be sent. A lower identifier wins the bus.
"""

from dataclasses import dataclass
from enum import Enum

from labkit.fieldbus.checked import whole
from labkit.fieldbus.errors import PlanError

HIGHEST_ADDRESS = 63
HIGHEST_IDENTIFIER = 0x7FF
"""Identifiers have 11 bits (ISO 11898-1)."""
_HIGHEST_MESSAGE = {1: 15, 2: 7, 3: 6, 4: 0x2F}


class AddressRole(Enum):
    """Whose address an identifier carries."""

    SOURCE = "the sender's address"
    DESTINATION = "the receiver's address"
    UNDEFINED = "an address whose role the connection itself settles"
    ABSENT = "no address"


class Purpose(Enum):
    """What a message is for. The values are the words a trainee reads.

    The reference page lists the predefined set; the multicast poll, the group 3 unconnected and
    the group 4 messages are from memory of IEC 62026-3.
    """

    MULTICAST_POLL_RESPONSE = "multicast poll response"
    CHANGE_OF_STATE = "change-of-state or cyclic data of a device"
    BIT_STROBE_RESPONSE = "bit-strobe response"
    POLL_RESPONSE = "poll response"
    BIT_STROBE_COMMAND = "bit-strobe command"
    MULTICAST_POLL_COMMAND = "multicast poll command"
    MASTER_ACKNOWLEDGE = "master's change-of-state or cyclic acknowledge"
    EXPLICIT_RESPONSE = "explicit response"
    EXPLICIT_REQUEST = "explicit request"
    POLL_COMMAND = "poll command"
    UNCONNECTED_REQUEST = "unconnected explicit request to a group-2-only device"
    DUPLICATE_CHECK = "duplicate node address check"
    UNCONNECTED_RESPONSE = "unconnected explicit response (group 3)"
    UNCONNECTED_REQUEST_GROUP_3 = "unconnected explicit request (group 3)"
    FAULTED_RESPONSE = "communication-faulted response"
    FAULTED_REQUEST = "communication-faulted request"
    OFFLINE_OWNER_RESPONSE = "offline ownership response"
    OFFLINE_OWNER_REQUEST = "offline ownership request"
    DYNAMIC = "message of a connection set up at run time"
    RESERVED = "reserved message"


_SOURCE, _DESTINATION = AddressRole.SOURCE, AddressRole.DESTINATION
_ABSENT, _UNDEFINED = AddressRole.ABSENT, AddressRole.UNDEFINED

_FIXED_MEANINGS: dict[tuple[int, int], tuple[Purpose, AddressRole]] = {
    (1, 12): (Purpose.MULTICAST_POLL_RESPONSE, _SOURCE),
    (1, 13): (Purpose.CHANGE_OF_STATE, _SOURCE),
    (1, 14): (Purpose.BIT_STROBE_RESPONSE, _SOURCE),
    (1, 15): (Purpose.POLL_RESPONSE, _SOURCE),
    (2, 0): (Purpose.BIT_STROBE_COMMAND, _SOURCE),
    (2, 1): (Purpose.MULTICAST_POLL_COMMAND, _UNDEFINED),
    (2, 2): (Purpose.MASTER_ACKNOWLEDGE, _DESTINATION),
    (2, 3): (Purpose.EXPLICIT_RESPONSE, _SOURCE),
    (2, 4): (Purpose.EXPLICIT_REQUEST, _DESTINATION),
    (2, 5): (Purpose.POLL_COMMAND, _DESTINATION),
    (2, 6): (Purpose.UNCONNECTED_REQUEST, _DESTINATION),
    (2, 7): (Purpose.DUPLICATE_CHECK, _DESTINATION),
    (3, 5): (Purpose.UNCONNECTED_RESPONSE, _SOURCE),
    (3, 6): (Purpose.UNCONNECTED_REQUEST_GROUP_3, _SOURCE),
    (4, 0x2C): (Purpose.FAULTED_RESPONSE, _ABSENT),
    (4, 0x2D): (Purpose.FAULTED_REQUEST, _ABSENT),
    (4, 0x2E): (Purpose.OFFLINE_OWNER_RESPONSE, _ABSENT),
    (4, 0x2F): (Purpose.OFFLINE_OWNER_REQUEST, _ABSENT),
}
_MESSAGE_OF = {purpose: key for key, (purpose, _) in _FIXED_MEANINGS.items()}


@dataclass(frozen=True, slots=True)
class Identifier:
    """One DeviceNet identifier, taken apart; `address` is None in group 4 only.

    Order of the fields is group, message, address. `value` gives the 11 bits.

    >>> hex(Identifier.of(Purpose.DUPLICATE_CHECK, 5).value)
    '0x42f'
    """

    group: int
    message: int
    address: int | None = None

    def __post_init__(self) -> None:
        whole(self.group, "the message group", 1, 4)
        whole(
            self.message,
            f"the message number of group {self.group}",
            0,
            _HIGHEST_MESSAGE[self.group],
        )
        if self.group != 4:
            node_address(self.address)
        elif self.address is not None:
            raise PlanError(
                f"a group 4 message carries no node address, yet {self.address!r} is given; "
                "leave the address out."
            )

    @classmethod
    def of(cls, purpose: Purpose, address: int | None = None) -> "Identifier":
        """The identifier of a purpose and, except in group 4, a node address."""
        if purpose not in _MESSAGE_OF:
            raise PlanError(
                f"a {purpose.value} has no fixed identifier; name its group and message number."
            )
        group, message = _MESSAGE_OF[purpose]
        return cls(group, message, address)

    @classmethod
    def from_value(cls, value: int) -> "Identifier":
        """Take 11 bits apart; 0x7F0 to 0x7FF raise, as no group holds them."""
        whole(value, "the identifier", 0, HIGHEST_IDENTIFIER)
        if value < 0x400:
            return cls(1, value >> 6, value & 0x3F)
        if value < 0x600:
            return cls(2, value & 0x7, (value >> 3) & 0x3F)
        if value < 0x7C0:
            return cls(3, (value >> 6) & 0x7, value & 0x3F)
        if value < 0x7F0:
            return cls(4, value & 0x3F)
        raise PlanError(
            f"identifier 0x{value:03X} belongs to no DeviceNet message group; "
            "0x7F0 to 0x7FF must not be sent: look for a device of another network or bad wiring."
        )

    @property
    def value(self) -> int:
        """The 11 bits, 0x000 to 0x7EF."""
        if self.group == 4:
            return 0x7C0 | self.message
        address = node_address(self.address)
        if self.group == 2:
            return 0x400 | address << 3 | self.message
        base = 0x000 if self.group == 1 else 0x600
        return base | self.message << 6 | address

    @property
    def purpose(self) -> Purpose:
        """What the message is for in the predefined connection set, or that it is dynamic."""
        return self._meaning[0]

    @property
    def role(self) -> AddressRole:
        """Whose address `address` is."""
        return self._meaning[1]

    @property
    def _meaning(self) -> tuple[Purpose, AddressRole]:
        fixed = _FIXED_MEANINGS.get((self.group, self.message))
        if fixed is not None:
            return fixed
        if self.group == 4:
            return Purpose.RESERVED, _ABSENT
        return Purpose.DYNAMIC, _SOURCE

    def __str__(self) -> str:
        place = f"group {self.group} message {self.message}"
        if self.address is None:
            return f"0x{self.value:03X}: {place}, {self.purpose.value}"
        return f"0x{self.value:03X}: {place}, address {self.address}, {self.purpose.value}"


def node_address(value: object, what: str = "the node address") -> int:
    """A node address, 0 to 63."""
    return whole(value, what, 0, HIGHEST_ADDRESS)

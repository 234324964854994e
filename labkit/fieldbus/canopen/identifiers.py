"""Which identifier carries what: the predefined set, and who would send on somebody else's.

An identifier of 11 bits is a function code of four bits and a node-ID of seven. Source: CiA 301 as
in several public device manuals. The smaller identifier wins the bus.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum
from typing import Final, Literal, Self

from labkit.fieldbus.canopen.node_ids import HIGHEST_NODE_ID, node_id
from labkit.fieldbus.checked import text, whole
from labkit.fieldbus.errors import PlanError

HIGHEST_IDENTIFIER: Final = 0x7FF
PDOS_BY_DEFAULT: Final = 4
"""PDOs of each direction that have an identifier in the predefined set (CiA 301)."""
_NODE_BITS: Final = 7


class CommunicationObject(Enum):
    """What a frame is for: its words, the base of its identifier, whether a node-ID is added."""

    NMT = ("NMT command", 0x000, False)
    SYNC = ("SYNC", 0x080, False)
    EMCY = ("emergency", 0x080, True)
    TIME = ("TIME", 0x100, False)
    TPDO1 = ("transmit PDO 1", 0x180, True)
    RPDO1 = ("receive PDO 1", 0x200, True)
    TPDO2 = ("transmit PDO 2", 0x280, True)
    RPDO2 = ("receive PDO 2", 0x300, True)
    TPDO3 = ("transmit PDO 3", 0x380, True)
    RPDO3 = ("receive PDO 3", 0x400, True)
    TPDO4 = ("transmit PDO 4", 0x480, True)
    RPDO4 = ("receive PDO 4", 0x500, True)
    SDO_REPLY = ("SDO, server to client", 0x580, True)
    SDO_REQUEST = ("SDO, client to server", 0x600, True)
    ERROR_CONTROL = ("heartbeat, guarding or boot-up", 0x700, True)

    @property
    def words(self) -> str:
        """What it is called."""
        return self.value[0]

    @property
    def base(self) -> int:
        """Its identifier, or the one to which the node-ID is added."""
        return self.value[1]

    @property
    def of_a_node(self) -> bool:
        """Whether each node has one of its own."""
        return self.value[2]

    @property
    def is_pdo(self) -> bool:
        """Whether it carries process data."""
        return "PDO" in self.name

    @property
    def sent_by_node(self) -> bool:
        """Whether the node in the identifier sends it; else it is sent to that node, or by one."""
        return self.of_a_node and self not in _TO_NODE


_TO_NODE: Final = {
    CommunicationObject.RPDO1,
    CommunicationObject.RPDO2,
    CommunicationObject.RPDO3,
    CommunicationObject.RPDO4,
    CommunicationObject.SDO_REQUEST,
}
_PER_NODE: Final = {each.base: each for each in CommunicationObject if each.of_a_node}
_ALONE: Final = {each.base: each for each in CommunicationObject if not each.of_a_node}


@dataclass(frozen=True, slots=True)
class CobId:
    """An identifier of the predefined set: a communication object, and a node-ID if it has one.

    >>> CobId(CommunicationObject.TPDO1, 5).value == 0x185
    True
    >>> CobId.from_value(0x605)
    CobId(kind=<CommunicationObject.SDO_REQUEST: ('SDO, client to server', 1536, True)>, node=5)
    """

    kind: CommunicationObject
    node: int | None = None

    def __post_init__(self) -> None:
        if not isinstance(self.kind, CommunicationObject):
            raise PlanError(
                f"{self.kind!r} is no communication object; take one of CommunicationObject."
            )
        if self.kind.of_a_node:
            node_id(self.node, f"the node-ID of {self.kind.words}")
        elif self.node is not None:
            raise PlanError(f"{self.kind.words} has one identifier for all; leave the node out.")

    @property
    def value(self) -> int:
        """The identifier, 0 to 0x7FF."""
        return self.kind.base + (self.node or 0)

    @property
    def function_code(self) -> int:
        """The leading four bits, which decide the priority."""
        return self.value >> _NODE_BITS

    @property
    def words(self) -> str:
        """What it is, and whose."""
        return self.kind.words if self.node is None else f"{self.kind.words} of node {self.node}"

    @classmethod
    def from_value(cls, value: object) -> Self:
        """The identifier read; `PlanError` where the predefined set has no such one."""
        number = identifier(value)
        if number in _ALONE:
            return cls(_ALONE[number])
        node = number & HIGHEST_NODE_ID
        found = _PER_NODE.get(number - node)
        if found is None or node == 0:
            raise PlanError(
                f"Identifier 0x{number:03X} is not in the predefined set; look whether a PDO was "
                "given it, or whether another protocol shares the bus."
            )
        return cls(found, node)


def identifier(value: object, what: str = "the identifier") -> int:
    """`value`, an identifier of 11 bits; `PlanError` for anything else."""
    return whole(value, what, 0, HIGHEST_IDENTIFIER, "11 bits carry it")


def predefined_set(node: int) -> tuple[CobId, ...]:
    """Every identifier that a node has without being configured, the most urgent first."""
    return tuple(CobId(each, node_id(node)) for each in CommunicationObject if each.of_a_node)


_RESTRICTED: Final = (
    (range(0x001), "NMT commands"),
    (range(0x001, 0x080), "nobody, CiA 301 reserves it"),
    (range(0x101, 0x181), "nobody, CiA 301 reserves it"),
    (range(0x581, 0x600), "SDO"),
    (range(0x601, 0x680), "SDO"),
    (range(0x6E0, 0x700), "nobody, CiA 301 reserves it"),
    (range(0x701, 0x780), "heartbeat and guarding"),
    (range(0x780, 0x800), "nobody, CiA 301 reserves it"),
)
"""Identifiers that no configured object may take (from memory of CiA 301)."""


def restricted_to(value: int) -> str | None:
    """Whom an identifier is kept for, None where a PDO may take it (from memory of CiA 301)."""
    number = identifier(value)
    return next((whom for span, whom in _RESTRICTED if number in span), None)


@dataclass(frozen=True, slots=True)
class IdentifierProblem:
    """An identifier that cannot stay: its kind, who is concerned, and a sentence."""

    kind: Literal["shared", "restricted"]
    identifier: int
    senders: tuple[str, ...]
    sentence: str


def check_senders(senders: Iterable[tuple[str, int]]) -> tuple[IdentifierProblem, ...]:
    """What is wrong with the identifiers of configured senders, (name, identifier) pairs.

    Two senders of one identifier cannot be told apart by the bus: they collide behind the
    identifier and destroy each other's frames. Some identifiers no PDO may take.
    """
    holders: dict[int, tuple[str, ...]] = {}
    for name, value in senders:
        who = text(name, "the name of a sender")
        number = identifier(value, f"the identifier of {who}")
        holders[number] = (*holders.get(number, ()), who)
    problems: list[IdentifierProblem] = []
    for number, names in sorted(holders.items()):
        named, whom = " and ".join(names), restricted_to(number)
        if len(names) > 1:
            sentence = f"{named} send on 0x{number:03X}: their frames collide; give each its own."
            problems.append(IdentifierProblem("shared", number, names, sentence))
        if whom:
            sentence = f"0x{number:03X} of {named} is for {whom}; choose another."
            problems.append(IdentifierProblem("restricted", number, names, sentence))
    return tuple(problems)

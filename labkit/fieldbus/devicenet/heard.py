"""What a log of a real DeviceNet bus tells: who sends, what is polled, how many ask for an address.

`Ear` takes frames in order of time and knows the plan: only with a planned size can fragments be
told from data. `hold_against_plan` says line by line what agrees. Which identifier carries what is
in `identifiers` (IEC 62026-3), fragments in `fragments`; that a master in idle polls without output
data is common practice of scanners, from memory.
"""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final, Self

from labkit.fieldbus.can.hearing import HeardTotals, count_of
from labkit.fieldbus.can.log_reading import Logged
from labkit.fieldbus.checked import every, name, number
from labkit.fieldbus.devicenet.connections import ConnectionKind
from labkit.fieldbus.devicenet.fragments import FRAME_BYTES, Fragment, Reassembly, size_of_io
from labkit.fieldbus.devicenet.identifiers import AddressRole, Identifier, Purpose, node_address
from labkit.fieldbus.devicenet.messages import DuplicateCheck
from labkit.fieldbus.errors import PlanError

MOST_KINDS: Final = 3
"""Different sizes, or devices that ask for one address, that are kept of a node (our choice)."""


@dataclass(frozen=True, slots=True)
class PlannedNode:
    """A device of the plan; `kind` None: the plan exchanges no I/O with it, as with the master."""

    name: str
    address: int
    kind: ConnectionKind | None = None
    input_bytes: int = 0
    output_bytes: int = 0

    def __post_init__(self) -> None:
        name(self.name, "a device")
        node_address(self.address)
        size_of_io(self.input_bytes)
        size_of_io(self.output_bytes)


@dataclass(frozen=True, slots=True)
class PlannedBus:
    """What a log is held against: the data rate in kbit/s, the master's name, all devices."""

    rate_kbit_s: float
    master: str
    nodes: tuple[PlannedNode, ...]

    def __post_init__(self) -> None:
        number(self.rate_kbit_s, "the data rate", "kbit/s", above=True)
        object.__setattr__(self, "nodes", every(self.nodes, PlannedNode, "The devices"))

    def to_json(self) -> dict[str, Any]:
        """The plan as plain JSON."""
        return {
            "rate": self.rate_kbit_s,
            "master": self.master,
            "nodes": [
                [e.name, e.address, e.kind and e.kind.value, e.input_bytes, e.output_bytes]
                for e in self.nodes
            ],
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """The plan read back. Raises `PlanError`."""
        try:
            nodes = tuple(
                PlannedNode(called, address, kind and ConnectionKind(kind), inputs, outputs)
                for called, address, kind, inputs, outputs in data["nodes"]
            )
            return cls(data["rate"], data["master"], nodes)
        except (KeyError, TypeError, ValueError) as error:
            raise PlanError(f"This is no plan of a DeviceNet bus: {error}.") from error


@dataclass(slots=True)
class HeardNode:
    """What was heard at one address. Sizes of messages in bytes, each with how often it came.

    `sent` are all frames that carry it as their sender, `asked` explicit requests to it; `checks`
    the vendor id and serial number of each device that asks whether the address is free, and
    `objections` how often somebody answered that it is not; `doubled` are poll answers that follow
    one of the same size without a poll between them.
    """

    sent: int = 0
    asked: int = 0
    polls: Counter[int] = field(default_factory=Counter)
    answers: Counter[int] = field(default_factory=Counter)
    strobed: Counter[int] = field(default_factory=Counter)
    reports: Counter[int] = field(default_factory=Counter)
    checks: list[tuple[int, int]] = field(default_factory=list)
    objections: int = 0
    doubled: int = 0

    @property
    def devices_asking(self) -> int:
        """How many devices, told apart by vendor and serial number, ask for this address."""
        return len(self.checks)

    def to_json(self) -> dict[str, Any]:
        """As plain JSON, what is zero left out."""
        counts = {key: dict(getattr(self, key).most_common(MOST_KINDS)) for key in _SIZES}
        sizes = {key: {str(n): many for n, many in kept.items()} for key, kept in counts.items()}
        plain = {key: getattr(self, key) for key in _COUNTS}
        whole_ = {**plain, **sizes, "checks": [list(each) for each in self.checks]}
        return {key: value for key, value in whole_.items() if value}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Read back what `to_json` wrote. Raises `PlanError`."""
        node = cls()
        for key in _COUNTS:
            setattr(node, key, count_of(data.get(key, 0)))
        for key in _SIZES:
            kept = data.get(key, {})
            sizes = {size_of_io(int(size)): count_of(many) for size, many in kept.items()}
            getattr(node, key).update(sizes)
        for vendor, serial in data.get("checks", []):
            DuplicateCheck(vendor, serial)
            node.checks.append((vendor, serial))
        return node


_COUNTS: Final = ("sent", "asked", "objections", "doubled")
_SIZES: Final = ("polls", "answers", "strobed", "reports")


@dataclass(slots=True)
class Heard(HeardTotals):
    """All that was heard; `foreign` are frames of no DeviceNet group.

    `nodes` are by address. Of a log that was read in pieces it grows.
    """

    nodes: dict[int, HeardNode] = field(default_factory=dict)

    def node(self, address: int) -> HeardNode:
        """What was heard at an address, nothing yet if nothing was."""
        return self.nodes.get(address) or HeardNode()

    def to_json(self) -> dict[str, Any]:
        """As plain JSON; together with a plan it is all that the comparison needs."""
        nodes = {str(at): node.to_json() for at, node in sorted(self.nodes.items())}
        return {**self.totals(), "nodes": nodes}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Read back what `to_json` wrote. Raises `PlanError` for anything else."""
        try:
            heard = cls()
            heard.read_totals(data)
            for at, node in data["nodes"].items():
                heard.nodes[node_address(int(at))] = HeardNode.from_json(node)
        except (KeyError, TypeError, ValueError, AttributeError) as error:
            raise PlanError("This is not what was heard on a DeviceNet bus.") from error
        return heard


class Ear:
    """Listens to a log, a frame after the other, with the plan at hand.

    >>> from labkit.fieldbus.can.frame import Frame
    >>> ear = Ear(PlannedBus(125, "scanner", (PlannedNode("scanner", 0),)))
    >>> ear.hear(Logged(0.0, Frame.from_hex("42F", "00 01 00 44 33 22 11")))
    >>> ear.heard.node(5).devices_asking
    1
    """

    def __init__(self, plan: PlannedBus) -> None:
        self.heard = Heard()
        self._long = {
            Identifier.of(purpose, node.address)
            for node in plan.nodes
            for purpose, size in _io_sizes(node)
            if size > FRAME_BYTES
        }
        self._pieces: dict[Identifier, Reassembly] = {}
        self._answered: dict[int, int] = {}

    def hear(self, logged: Logged) -> None:
        """Take the next frame or error in."""
        frame = self.heard.take(logged)
        if frame is None:
            return
        try:
            if frame.extended or frame.remote:
                raise PlanError("DeviceNet has neither 29-bit nor remote frames.")
            self._take(Identifier.from_value(frame.identifier), frame.data)
        except PlanError:
            self.heard.foreign += 1

    def _take(self, identifier: Identifier, data: bytes) -> None:
        purpose, address = identifier.purpose, identifier.address
        if address is None:
            return
        if purpose is Purpose.DUPLICATE_CHECK:
            self._check(address, DuplicateCheck.from_bytes(data))
            return
        node = self.heard.nodes.setdefault(address, HeardNode())
        if identifier.role is AddressRole.SOURCE:
            node.sent += 1
        if purpose in (Purpose.EXPLICIT_REQUEST, Purpose.UNCONNECTED_REQUEST):
            self._request(node, data)
        if purpose in _IO:
            self._io(node, address, identifier, data)

    def _check(self, address: int, check: DuplicateCheck) -> None:
        node = self.heard.nodes.setdefault(address, HeardNode())
        node.sent += 1
        if check.response:
            node.objections += 1
            return
        who = (check.vendor, check.serial)
        if who not in node.checks and len(node.checks) < MOST_KINDS:
            node.checks.append(who)

    def _request(self, node: HeardNode, data: bytes) -> None:
        """Its first byte carries the address of whoever asks (see `messages`)."""
        node.asked += 1
        if data:
            self.heard.nodes.setdefault(data[0] & 0x3F, HeardNode()).sent += 1

    def _io(self, node: HeardNode, address: int, identifier: Identifier, data: bytes) -> None:
        size = self._whole(identifier, data)
        if size is None:
            return
        sizes: Counter[int] = getattr(node, _IO[identifier.purpose])
        if size in sizes or len(sizes) < MOST_KINDS:
            sizes[size] += 1
        if identifier.purpose is Purpose.POLL_COMMAND:
            self._answered.pop(address, None)
        if identifier.purpose is Purpose.POLL_RESPONSE:
            # Eight bytes may be a piece, of a message that is longer than planned.
            again = self._answered.get(address) == size
            node.doubled += again and size < FRAME_BYTES
            self._answered[address] = size

    def _whole(self, identifier: Identifier, data: bytes) -> int | None:
        """The bytes of a message that is whole with this frame; None for a piece."""
        if identifier not in self._long or not data:
            return len(data)
        step = self._pieces.get(identifier, Reassembly()).take(Fragment.from_bytes(data))
        self._pieces[identifier] = step.state if step.state.taken else Reassembly()
        return None if step.message is None else len(step.message)


_IO: Final = {
    Purpose.POLL_COMMAND: "polls",
    Purpose.POLL_RESPONSE: "answers",
    Purpose.BIT_STROBE_RESPONSE: "strobed",
    Purpose.CHANGE_OF_STATE: "reports",
}
"""Where the size of each I/O message is counted."""


def _io_sizes(node: PlannedNode) -> tuple[tuple[Purpose, int], ...]:
    answer = {
        ConnectionKind.POLL: Purpose.POLL_RESPONSE,
        ConnectionKind.BIT_STROBE: Purpose.BIT_STROBE_RESPONSE,
    }.get(node.kind or ConnectionKind.POLL, Purpose.CHANGE_OF_STATE)
    return ((Purpose.POLL_COMMAND, node.output_bytes), (answer, node.input_bytes))

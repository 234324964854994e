"""A device's network side as a value: state, connections, fault, and the two indicators.

`startup` moves it from one state to the next, `serving` lets it answer its master.
"""

from dataclasses import dataclass, replace
from enum import Enum

from labkit.fieldbus.checked import byte_string
from labkit.fieldbus.devicenet.connections import (
    EXPLICIT_PACKET_RATE_MS,
    Allocation,
    BusFrame,
    timeout_ms,
)
from labkit.fieldbus.devicenet.fragments import size_of_io
from labkit.fieldbus.devicenet.identifiers import Identifier, Purpose, node_address
from labkit.fieldbus.devicenet.identity import Identity
from labkit.fieldbus.devicenet.indicators import MODULE_INDICATOR, Health, Indicator
from labkit.fieldbus.devicenet.messages import DuplicateCheck
from labkit.fieldbus.errors import PlanError


class NodeState(Enum):
    """Where a node stands between power-up and I/O."""

    OFF = "not powered"
    SELF_TEST = "self-test"
    FIRST_CHECK = "first duplicate address check"
    SECOND_CHECK = "second duplicate address check"
    ON_LINE = "on line"
    ALLOCATED = "allocated by a master"
    TIMED_OUT = "I/O connection timed out"
    FAULTED = "faulted"


class Fault(Enum):
    """Why a node is faulted."""

    DUPLICATE_ADDRESS = "another node has the same address"
    BUS_OFF = "bus-off: too many transmit errors"
    SELF_TEST = "the self-test failed"


@dataclass(frozen=True, slots=True)
class Link:
    """One connection of the predefined set as the device holds it.

    `quiet_ms` is the time since its last message. An I/O link without a packet rate is
    configured but not established.
    """

    choice: Allocation
    packet_rate_ms: int | None = None
    quiet_ms: float = 0.0
    timed_out: bool = False

    @property
    def established(self) -> bool:
        """Whether the link carries messages."""
        return self.packet_rate_ms is not None and not self.timed_out

    @property
    def left_ms(self) -> float | None:
        """Time until it times out, ms; None where it never does."""
        if not self.established or not self.packet_rate_ms:
            return None
        limit = timeout_ms(self.packet_rate_ms)
        return None if limit is None else max(0.0, limit - self.quiet_ms)


@dataclass(frozen=True, slots=True)
class Node:
    """One device's network side. Build it with address, vendor and serial number; it starts off.

    `inputs` are the bytes that it produces, `output_bytes` says how many it consumes, `allowed`
    which connections it can serve; `device_type` and `product_code` say which product it is;
    `address_by_message`: its switches leave its node address to a message.
    `wait_s` is the time left of a duplicate check's wait, None until the check was acknowledged.
    """

    address: int
    vendor: int
    serial: int
    inputs: bytes = b""
    health: Health = Health.WORKING
    state: NodeState = NodeState.OFF
    wait_s: float | None = None
    fault: Fault | None = None
    master: int | None = None
    links: tuple[Link, ...] = ()
    output_bytes: int = 0
    allowed: Allocation = Allocation.EXPLICIT | Allocation.POLL
    device_type: int = 0
    product_code: int = 0
    address_by_message: bool = False

    def __post_init__(self) -> None:
        node_address(self.address)
        size_of_io(self.output_bytes)
        DuplicateCheck(self.vendor, self.serial)
        object.__setattr__(self, "inputs", byte_string(self.inputs, "the inputs", 4096))
        if (self.state is NodeState.FAULTED) != (self.fault is not None):
            raise PlanError(
                f"node {self.address} is {self.state.value} with fault {self.fault}; "
                "a fault belongs to the faulted state and to no other."
            )

    @property
    def identity(self) -> Identity:
        """What its identity object tells. Raises `PlanError` for numbers that cannot be."""
        return Identity(self.vendor, self.device_type, self.product_code, serial=self.serial)

    @property
    def network_status(self) -> Indicator:
        """The network status indicator."""
        if self.state is NodeState.SELF_TEST:
            return Indicator.FLASHING_RED_GREEN
        if self.state is NodeState.FAULTED:
            return Indicator.OFF if self.fault is Fault.SELF_TEST else Indicator.RED
        if self.state is NodeState.TIMED_OUT:
            return Indicator.FLASHING_RED
        if self.state in (NodeState.ON_LINE, NodeState.ALLOCATED):
            linked = any(link.established for link in self.links)
            return Indicator.GREEN if linked else Indicator.FLASHING_GREEN
        return Indicator.OFF

    @property
    def module_status(self) -> Indicator:
        """The module status indicator."""
        if self.state is NodeState.OFF:
            return Indicator.OFF
        if self.state is NodeState.SELF_TEST:
            return Indicator.FLASHING_RED_GREEN
        return MODULE_INDICATOR[self.health]

    @property
    def on_line(self) -> bool:
        """Whether the node takes part in the network."""
        return self.state in (NodeState.ON_LINE, NodeState.ALLOCATED, NodeState.TIMED_OUT)

    @property
    def checking(self) -> bool:
        """Whether the node is between its first duplicate check and going on line."""
        return self.state in (NodeState.FIRST_CHECK, NodeState.SECOND_CHECK)

    def link(self, choice: Allocation) -> Link | None:
        """The link of one choice bit, if the master has taken it."""
        return next((link for link in self.links if link.choice is choice), None)

    def bare(self, state: NodeState) -> "Node":
        """This node in a state without check, fault, master or links."""
        return replace(self, state=state, wait_s=None, fault=None, master=None, links=())

    def faulted(self, fault: Fault) -> "Node":
        """This node off the network for a reason."""
        return replace(self.bare(NodeState.OFF), state=NodeState.FAULTED, fault=fault)

    def with_links(self, links: tuple[Link, ...]) -> "Node":
        """This on-line node with other links; its state follows from them."""
        if not links:
            return self.bare(NodeState.ON_LINE)
        timed_out = any(link.timed_out for link in links)
        state = NodeState.TIMED_OUT if timed_out else NodeState.ALLOCATED
        return replace(self, links=links, state=state)

    def with_link(self, link: Link) -> "Node":
        """This on-line node with one link put in the place of the one of the same choice."""
        others = tuple(each for each in self.links if each.choice is not link.choice)
        return self.with_links((*others, link))

    def check_frame(self, check: DuplicateCheck) -> BusFrame:
        """A duplicate check, request or response, as this node sends it."""
        identifier = Identifier.of(Purpose.DUPLICATE_CHECK, self.address)
        return BusFrame(identifier, check.to_bytes(), from_master=False)


@dataclass(frozen=True, slots=True)
class Reaction:
    """The node after an event, the frames that it sends, and what happened in words."""

    node: Node
    frames: tuple[BusFrame, ...] = ()
    said: tuple[str, ...] = ()


EXPLICIT_LINK = Link(Allocation.EXPLICIT, EXPLICIT_PACKET_RATE_MS)
"""An explicit connection as an allocation creates it: established at once."""

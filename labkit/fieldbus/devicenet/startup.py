"""The life of a node from power-up to I/O, as a pure state machine.

A device sends its duplicate address check twice, one second apart, and goes on line when neither
is answered (IEC 62026-3, reference page). From memory of IEC 62026-3: a request of another node
for the same address during the check also ends it; an unacknowledged check is sent again and
again, so a node alone on the bus never gets past it; a connection counts as established once its
expected packet rate is set (an explicit one at once) and times out after four of them; a node
address that is set by message drops all connections and begins the check anew.

`react` takes what happens at the node and gives the node afterwards, the frames that it sends,
and sentences about what happened. When cyclic data is due is the caller's clock to say.
"""

from dataclasses import dataclass, replace

from labkit.fieldbus.checked import byte_string, seconds, whole
from labkit.fieldbus.devicenet.connections import Allocation, BusFrame, device_report
from labkit.fieldbus.devicenet.identifiers import Identifier, Purpose
from labkit.fieldbus.devicenet.indicators import Health
from labkit.fieldbus.devicenet.messages import DuplicateCheck
from labkit.fieldbus.devicenet.node import Fault, Link, Node, NodeState, Reaction
from labkit.fieldbus.devicenet.serving import serve
from labkit.fieldbus.errors import PlanError

CHECK_WAIT_S = 1.0
"""Wait for an answer after each of the two duplicate checks, s."""


@dataclass(frozen=True, slots=True)
class PowerOn:
    """Power comes."""


@dataclass(frozen=True, slots=True)
class PowerOff:
    """Power goes."""


@dataclass(frozen=True, slots=True)
class SelfTestDone:
    """The self-test ends."""

    passed: bool = True


@dataclass(frozen=True, slots=True)
class CheckSent:
    """The node's duplicate check went out and another node acknowledged it on the wire."""


@dataclass(frozen=True, slots=True)
class TimePasses:
    """Time goes by with nothing on the bus for this node, s."""

    seconds: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "seconds", seconds(self.seconds, "the time that passes"))


@dataclass(frozen=True, slots=True)
class Received:
    """The node receives a frame: 11-bit identifier and data."""

    identifier: int
    data: bytes

    def __post_init__(self) -> None:
        whole(self.identifier, "the identifier", 0, 0x7FF)
        object.__setattr__(self, "data", byte_string(self.data, "the data of a frame", 8))


@dataclass(frozen=True, slots=True)
class BusOff:
    """The node's CAN controller counted too many transmit errors."""


@dataclass(frozen=True, slots=True)
class InputsChange:
    """The inputs of the device take another value."""

    inputs: bytes

    def __post_init__(self) -> None:
        object.__setattr__(self, "inputs", byte_string(self.inputs, "the inputs", 4096))


Event = (
    PowerOn | PowerOff | SelfTestDone | CheckSent | TimePasses | Received | InputsChange | BusOff
)
"""What may happen to a node."""


def react(node: Node, event: Event) -> Reaction:
    """What a node does at an event; what makes no sense in its state changes nothing."""
    match event:
        case PowerOff():
            return Reaction(node.bare(NodeState.OFF), said=("power goes",))
        case PowerOn():
            return _power_on(node)
        case SelfTestDone(passed):
            return _self_test_done(node, passed)
        case CheckSent():
            return _check_sent(node)
        case TimePasses(time):
            return _time_passes(node, time)
        case Received(identifier, data):
            return _received(node, identifier, data)
        case InputsChange(inputs):
            return _inputs_change(node, inputs)
        case BusOff():
            return _bus_off(node)
    raise PlanError(f"{event!r} is no event of a node; use one of this module's event classes.")


def come_on_line(node: Node) -> Reaction:
    """The whole start-up of a powered-off node on a healthy bus where nobody answers."""
    frames: tuple[BusFrame, ...] = ()
    said: tuple[str, ...] = ()
    wait = TimePasses(CHECK_WAIT_S)
    for event in (PowerOn(), SelfTestDone(), CheckSent(), wait, CheckSent(), wait):
        reaction = react(node, event)
        node, frames, said = reaction.node, frames + reaction.frames, said + reaction.said
    return Reaction(node, frames, said)


def _power_on(node: Node) -> Reaction:
    if node.state is not NodeState.OFF:
        return Reaction(node)
    return Reaction(node.bare(NodeState.SELF_TEST), said=("power comes, the self-test runs",))


def _self_test_done(node: Node, passed: bool) -> Reaction:
    if node.state is not NodeState.SELF_TEST:
        return Reaction(node)
    if not passed:
        broken = replace(node, health=Health.UNRECOVERABLE_FAULT)
        return Reaction(broken.faulted(Fault.SELF_TEST), said=("the self-test fails",))
    return _ask(node, NodeState.FIRST_CHECK, "first")


def _ask(node: Node, state: NodeState, turn: str) -> Reaction:
    frame = node.check_frame(DuplicateCheck(node.vendor, node.serial))
    said = f"it asks for the {turn} time whether anyone else has address {node.address}"
    return Reaction(replace(node, state=state, wait_s=None), (frame,), (said,))


def _check_sent(node: Node) -> Reaction:
    if not node.checking or node.wait_s is not None:
        return Reaction(node)
    return Reaction(replace(node, wait_s=CHECK_WAIT_S))


def _time_passes(node: Node, time: float) -> Reaction:
    if node.wait_s is not None:
        return _wait(node, node.wait_s - time)
    if not node.links:
        return Reaction(node)
    return _watch(node, time * 1000.0)


def _wait(node: Node, left: float) -> Reaction:
    # A sum of decimal fractions must not leave a check a rounding error short of its second.
    if left > 1e-9:
        return Reaction(replace(node, wait_s=left))
    if node.state is NodeState.FIRST_CHECK:
        return _ask(node, NodeState.SECOND_CHECK, "second")
    return Reaction(node.bare(NodeState.ON_LINE), said=("nobody answers: it goes on line",))


def _watch(node: Node, passed_ms: float) -> Reaction:
    kept: list[Link] = []
    said: list[str] = []
    for link in node.links:
        aged = replace(link, quiet_ms=link.quiet_ms + passed_ms)
        if link.left_ms is None or link.left_ms - passed_ms > 1e-6:
            kept.append(aged)
            continue
        said.append(f"its {link.choice.words} connection times out")
        if link.choice is not Allocation.EXPLICIT:
            kept.append(replace(aged, timed_out=True))
    return Reaction(node.with_links(tuple(kept)), said=tuple(said))


def _bus_off(node: Node) -> Reaction:
    if not (node.on_line or node.checking):
        return Reaction(node)
    return Reaction(node.faulted(Fault.BUS_OFF), said=("it goes bus-off",))


def _inputs_change(node: Node, inputs: bytes) -> Reaction:
    changed = replace(node, inputs=inputs)
    link = node.link(Allocation.CHANGE_OF_STATE)
    if inputs == node.inputs or link is None or not link.established:
        return Reaction(changed)
    frames = device_report(node.address, inputs, acknowledged=False)
    return Reaction(changed, frames, ("its inputs changed: it reports them",))


def _received(node: Node, identifier: int, data: bytes) -> Reaction:
    try:
        meaning = Identifier.from_value(identifier)
    except PlanError:
        return Reaction(node)
    if meaning.purpose is Purpose.DUPLICATE_CHECK:
        return _check_received(node, data) if meaning.address == node.address else Reaction(node)
    if not node.on_line:
        return Reaction(node)
    reaction = serve(node, meaning, data)
    return _at_new_address(reaction) if reaction.node.checking else reaction


def _at_new_address(answered: Reaction) -> Reaction:
    """A message gave it another node address: it answers from the old one and asks anew."""
    asks = _ask(answered.node, NodeState.FIRST_CHECK, "first")
    return Reaction(asks.node, answered.frames + asks.frames, answered.said + asks.said)


def _check_received(node: Node, data: bytes) -> Reaction:
    try:
        check = DuplicateCheck.from_bytes(data)
    except PlanError:
        return Reaction(node)
    if node.checking:
        said = f"address {node.address} is taken: it stays off the network"
        return Reaction(node.faulted(Fault.DUPLICATE_ADDRESS), said=(said,))
    if not node.on_line or check.response:
        return Reaction(node)
    answer = node.check_frame(check.answer(node.vendor, node.serial))
    return Reaction(node, (answer,), (f"it answers that address {node.address} is its own",))

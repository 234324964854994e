"""What an on-line node answers to its master: allocation, explicit requests, I/O messages.

Error codes and the order of their tests are from memory of IEC 62026-3; the reference page has
the message layouts.
"""

from collections.abc import Callable
from dataclasses import replace

from labkit.fieldbus.devicenet.connections import (
    CONNECTION_INSTANCE,
    Allocation,
    BusFrame,
    allocation,
    response_frames,
)
from labkit.fieldbus.devicenet.fragments import (
    FRAME_BYTES,
    ONLY_FRAGMENT,
    AckStatus,
    Fragment,
    FragmentType,
    io_frames,
)
from labkit.fieldbus.devicenet.identifiers import HIGHEST_ADDRESS, Identifier, Purpose
from labkit.fieldbus.devicenet.messages import (
    BodyFormat,
    ExplicitHeader,
    ExplicitRequest,
    ExplicitResponse,
)
from labkit.fieldbus.devicenet.node import EXPLICIT_LINK, Link, Node, NodeState, Reaction
from labkit.fieldbus.devicenet.objects import (
    CONSUMED_SIZE,
    NODE_ADDRESS_ATTRIBUTE,
    PACKET_RATE_ATTRIBUTE,
    PRODUCED_SIZE,
    GeneralError,
    ObjectClass,
    Service,
)
from labkit.fieldbus.errors import PlanError

_Answer = tuple[Node, ExplicitResponse, str]

_REPORTING = (Allocation.CHANGE_OF_STATE, Allocation.CYCLIC)


def serve(node: Node, identifier: Identifier, data: bytes) -> Reaction:
    """What an on-line node does at a frame that is no duplicate check."""
    purpose, address = identifier.purpose, identifier.address
    if purpose is Purpose.BIT_STROBE_COMMAND:
        return _strobed(node, data) if address == node.master else Reaction(node)
    if address != node.address:
        return Reaction(node)
    if purpose is Purpose.UNCONNECTED_REQUEST:
        return _explicit(node, data, _unconnected)
    if purpose is Purpose.EXPLICIT_REQUEST:
        return _connected_request(node, data)
    if purpose is Purpose.POLL_COMMAND:
        return _polled(node, data)
    if purpose is Purpose.MASTER_ACKNOWLEDGE:
        return Reaction(_refreshed(node, *_REPORTING))
    return Reaction(node)


def _connected_request(node: Node, data: bytes) -> Reaction:
    from_master = len(data) > 0 and ExplicitHeader.from_byte(data[0]).other == node.master
    if not from_master or node.link(Allocation.EXPLICIT) is None:
        return Reaction(node)
    return _explicit(_refreshed(node, Allocation.EXPLICIT), data, _connected)


def _explicit(
    node: Node, data: bytes, answer: Callable[[Node, ExplicitRequest, int], _Answer]
) -> Reaction:
    if not data:
        return Reaction(node)
    header = ExplicitHeader.from_byte(data[0])
    if header.fragmented:
        return _refuse_fragment(node, header, data[1:])
    try:
        request = ExplicitRequest.from_bytes(data[1:])
    except PlanError:
        return Reaction(node)
    after, response, said = answer(node, request, header.other)
    frames = response_frames(response, node.address, header.other)
    return Reaction(after, tuple(_same_transaction(each, header) for each in frames), (said,))


def _same_transaction(frame: BusFrame, header: ExplicitHeader) -> BusFrame:
    first = frame.data[0] | header.transaction << 6
    return replace(frame, data=bytes([first]) + frame.data[1:])


def _refuse_fragment(node: Node, header: ExplicitHeader, piece: bytes) -> Reaction:
    try:
        fragment = Fragment.from_bytes(piece)
    except PlanError:
        return Reaction(node)
    if fragment.kind is FragmentType.ACKNOWLEDGE:
        return Reaction(node)
    answer = fragment.acknowledge(AckStatus.TOO_MUCH_DATA).to_bytes()
    identifier = Identifier.of(Purpose.EXPLICIT_RESPONSE, node.address)
    frame = BusFrame(identifier, bytes([header.byte]) + answer, from_master=False)
    return Reaction(node, (frame,), ("it takes no request of more than one frame",))


def _refusal(node: Node, error: GeneralError, additional: int = 0xFF) -> _Answer:
    return node, ExplicitResponse.error(error, additional), "it refuses the request"


def _wrong_length(node: Node, data: bytes, right: int) -> _Answer:
    if len(data) < right:
        return _refusal(node, GeneralError.NOT_ENOUGH_DATA)
    return _refusal(node, GeneralError.TOO_MUCH_DATA)


def _unconnected(node: Node, request: ExplicitRequest, sender: int) -> _Answer:
    if request.class_id != ObjectClass.DEVICENET or request.instance != 1:
        return _refusal(node, GeneralError.OBJECT_DOES_NOT_EXIST)
    if request.service == Service.ALLOCATE:
        return _allocate(node, request.data, sender)
    if request.service == Service.RELEASE:
        return _release(node, request.data, sender)
    return _refusal(node, GeneralError.SERVICE_NOT_SUPPORTED)


def _allocate(node: Node, data: bytes, sender: int) -> _Answer:
    if len(data) != 2:
        return _wrong_length(node, data, 2)
    try:
        choice = allocation(data[0])
    except PlanError:
        return _refusal(node, GeneralError.INVALID_VALUE, 0x02)
    if data[1] != sender:
        return _refusal(node, GeneralError.INVALID_VALUE, 0x02)
    if node.master is not None and node.master != sender:
        return _refusal(node, GeneralError.OBJECT_STATE_CONFLICT, 0x01)
    if choice & ~(node.allowed | Allocation.SUPPRESS_ACKNOWLEDGE):
        return _refusal(node, GeneralError.RESOURCE_UNAVAILABLE, 0x02)
    wanted = tuple(bit for bit in CONNECTION_INSTANCE if bit in choice)
    if any(_in_use(node.link(bit)) for bit in wanted):
        return _refusal(node, GeneralError.ALREADY_IN_STATE, 0x02)
    after = replace(node, master=sender)
    for bit in wanted:
        after = after.with_link(EXPLICIT_LINK if bit is Allocation.EXPLICIT else Link(bit))
    response = ExplicitResponse(Service.ALLOCATE, bytes([BodyFormat.CLASS_8_INSTANCE_8.code]))
    return after, response, f"node {sender} takes it: {choice.words}"


def _in_use(link: Link | None) -> bool:
    return link is not None and not link.timed_out


def _release(node: Node, data: bytes, sender: int) -> _Answer:
    if len(data) != 1:
        return _wrong_length(node, data, 1)
    if node.master != sender:
        return _refusal(node, GeneralError.OBJECT_STATE_CONFLICT, 0x01)
    kept = tuple(link for link in node.links if not link.choice & data[0])
    if len(kept) == len(node.links):
        return _refusal(node, GeneralError.ALREADY_IN_STATE)
    after = node.with_links(kept)
    return after, ExplicitResponse(Service.RELEASE), f"node {sender} releases connections"


def _connected(node: Node, request: ExplicitRequest, sender: int) -> _Answer:
    if request.service in (Service.ALLOCATE, Service.RELEASE):
        return _unconnected(node, request, sender)
    if request.service == Service.GET_ATTRIBUTE:
        return _get(node, request)
    if request.service == Service.SET_ATTRIBUTE:
        return _set(node, request)
    if request.service == Service.RESET and request.class_id == ObjectClass.IDENTITY:
        after = node.bare(NodeState.SELF_TEST)
        return after, ExplicitResponse(Service.RESET), "it resets"
    return _refusal(node, GeneralError.SERVICE_NOT_SUPPORTED)


def _get(node: Node, request: ExplicitRequest) -> _Answer:
    if request.attribute is None:
        return _refusal(node, GeneralError.NOT_ENOUGH_DATA)
    held = _attributes(node, request.class_id, request.instance)
    if held is None:
        return _refusal(node, GeneralError.OBJECT_DOES_NOT_EXIST)
    value = held.get(request.attribute)
    if value is None:
        return _refusal(node, GeneralError.ATTRIBUTE_NOT_SUPPORTED)
    return node, ExplicitResponse(Service.GET_ATTRIBUTE, value), "it tells an attribute"


def _attributes(node: Node, class_id: int, instance: int) -> dict[int, bytes] | None:
    if (class_id, instance) == (ObjectClass.IDENTITY, 1):
        return node.identity.attributes
    if (class_id, instance) == (ObjectClass.DEVICENET, 1):
        return {1: bytes([node.address])}
    link = _link_of(node, class_id, instance)
    if link is None:
        return None
    rate = (link.packet_rate_ms or 0).to_bytes(2, "little")
    return {1: bytes([_state_code(link)]), PACKET_RATE_ATTRIBUTE: rate, **_sizes(node, link)}


def _sizes(node: Node, link: Link) -> dict[int, bytes]:
    """How many bytes an I/O connection produces and consumes."""
    if link.choice is Allocation.EXPLICIT:
        return {}
    consumed = FRAME_BYTES if link.choice is Allocation.BIT_STROBE else node.output_bytes
    return {
        PRODUCED_SIZE: len(node.inputs).to_bytes(2, "little"),
        CONSUMED_SIZE: consumed.to_bytes(2, "little"),
    }


def _state_code(link: Link) -> int:
    """State attribute of a connection: 1 configuring, 3 established, 4 timed out."""
    if link.timed_out:
        return 4
    return 3 if link.established else 1


def _link_of(node: Node, class_id: int, instance: int) -> Link | None:
    if class_id != ObjectClass.CONNECTION:
        return None
    return next((each for each in node.links if CONNECTION_INSTANCE[each.choice] == instance), None)


def _set(node: Node, request: ExplicitRequest) -> _Answer:
    if request.attribute is None:
        return _refusal(node, GeneralError.NOT_ENOUGH_DATA)
    where = (request.class_id, request.instance, request.attribute)
    if where == (ObjectClass.DEVICENET, 1, NODE_ADDRESS_ATTRIBUTE) and node.address_by_message:
        return _moved(node, request.data[1:])
    link = _link_of(node, request.class_id, request.instance)
    if link is None:
        known = _attributes(node, request.class_id, request.instance) is not None
        wrong = GeneralError.NOT_SETTABLE if known else GeneralError.OBJECT_DOES_NOT_EXIST
        return _refusal(node, wrong)
    if request.attribute != PACKET_RATE_ATTRIBUTE:
        return _refusal(node, GeneralError.NOT_SETTABLE)
    if len(request.data) != 3:
        return _wrong_length(node, request.data, 3)
    if link.timed_out:
        return _refusal(node, GeneralError.OBJECT_STATE_CONFLICT)
    rate = int.from_bytes(request.data[1:], "little")
    after = node.with_link(replace(link, packet_rate_ms=rate, quiet_ms=0.0))
    said = f"its {link.choice.words} connection expects a packet every {rate} ms"
    return after, ExplicitResponse(Service.SET_ATTRIBUTE, request.data[1:]), said


def _moved(node: Node, value: bytes) -> _Answer:
    """It takes another node address: its connections go, and its check begins anew there."""
    if len(value) != 1:
        return _wrong_length(node, value, 1)
    if value[0] > HIGHEST_ADDRESS:
        return _refusal(node, GeneralError.INVALID_VALUE)
    after = replace(node.bare(NodeState.FIRST_CHECK), address=value[0])
    return after, ExplicitResponse(Service.SET_ATTRIBUTE, value), f"it moves to node {value[0]}"


def _refreshed(node: Node, *choices: Allocation) -> Node:
    """The node with the time-out of the established links among `choices` begun anew."""
    for choice in choices:
        link = node.link(choice)
        if link is not None and link.established:
            node = node.with_link(replace(link, quiet_ms=0.0))
    return node


def _established(node: Node, choice: Allocation) -> bool:
    link = node.link(choice)
    return link is not None and link.established


def _strobed(node: Node, data: bytes) -> Reaction:
    if len(data) != FRAME_BYTES or not _established(node, Allocation.BIT_STROBE):
        return Reaction(node)
    after = _refreshed(node, Allocation.BIT_STROBE)
    return _send(after, Purpose.BIT_STROBE_RESPONSE, node.inputs[:FRAME_BYTES])


def _polled(node: Node, data: bytes) -> Reaction:
    if not _whole_command(node, data):
        return Reaction(node)
    if _established(node, Allocation.POLL):
        return _send(_refreshed(node, Allocation.POLL), Purpose.POLL_RESPONSE, node.inputs)
    if any(_established(node, choice) for choice in _REPORTING):
        return _send(_refreshed(node, *_REPORTING), Purpose.POLL_RESPONSE, b"")
    return Reaction(node)


def _whole_command(node: Node, data: bytes) -> bool:
    """Whether a poll command ends with this frame; over eight bytes it takes several."""
    if node.output_bytes <= FRAME_BYTES or not data:
        return True
    try:
        fragment = Fragment.from_bytes(data)
    except PlanError:
        return False
    alone = fragment.kind is FragmentType.FIRST and fragment.count == ONLY_FRAGMENT
    return alone or fragment.kind is FragmentType.LAST


def _send(node: Node, purpose: Purpose, data: bytes) -> Reaction:
    identifier = Identifier.of(purpose, node.address)
    return Reaction(node, tuple(BusFrame(identifier, each, False) for each in io_frames(data)))

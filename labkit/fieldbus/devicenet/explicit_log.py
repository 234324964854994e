"""The explicit messages of a log in words: requests, the responses that answer them, fragments."""

from dataclasses import dataclass, field

from labkit.fieldbus.devicenet.connections import Allocation
from labkit.fieldbus.devicenet.fragments import AckStatus, Fragment, FragmentType, Reassembly
from labkit.fieldbus.devicenet.messages import (
    ExplicitHeader,
    ExplicitRequest,
    ExplicitResponse,
    is_response,
)
from labkit.fieldbus.devicenet.objects import (
    Service,
    attribute_name,
    error_sentence,
    is_number,
    object_name,
)
from labkit.fieldbus.errors import PlanError

_Said = tuple[str, bool]


@dataclass(slots=True)
class ExplicitLog:
    """Remembers, by device and master, the request under way and the pieces of long messages."""

    asked: dict[tuple[int, int], ExplicitRequest] = field(default_factory=dict)
    pieces: dict[tuple[int, int, bool], Reassembly] = field(default_factory=dict)

    def request(self, node: int, data: bytes) -> _Said:
        """A frame to a device: its words, and whether it is trouble."""
        header, rest = _header(data)
        who = f"node {header.other}"
        if not header.fragmented:
            return self._whole_request(node, header.other, rest)
        said, trouble, body = self._piece((node, header.other, True), rest)
        if body is None:
            return f"{who} sends node {node} {said}", trouble
        words, wrong = self._whole_request(node, header.other, body)
        return f"{who} sends node {node} {said}; together: {words}", trouble or wrong

    def response(self, node: int, data: bytes) -> _Said:
        """A frame from a device: its words, and whether it is trouble."""
        header, rest = _header(data)
        if not header.fragmented:
            return self._whole_response(node, header.other, rest)
        said, trouble, body = self._piece((node, header.other, False), rest)
        if body is None:
            return f"node {node} sends node {header.other} {said}", trouble
        words, wrong = self._whole_response(node, header.other, body)
        return f"node {node} sends {said}; together: {words}", trouble or wrong

    def _piece(self, key: tuple[int, int, bool], rest: bytes) -> tuple[str, bool, bytes | None]:
        fragment = Fragment.from_bytes(rest)
        if fragment.kind is FragmentType.ACKNOWLEDGE:
            return _acknowledge(fragment)
        step = self.pieces.get(key, Reassembly()).take(fragment)
        self.pieces[key] = step.state
        name = f"the {fragment.kind.name.lower()} fragment (count {fragment.count})"
        if step.problem:
            return f"{name}, but {step.problem}", True, step.message
        return f"{name} of a long message", False, step.message

    def _whole_request(self, node: int, sender: int, body: bytes) -> _Said:
        if is_response(body):
            raise PlanError(f"service byte 0x{body[0]:02X} marks a response; requests come here.")
        request = ExplicitRequest.from_bytes(body)
        self.asked[node, sender] = request
        return f"node {sender} {_request_words(request, node)}", False

    def _whole_response(self, node: int, receiver: int, body: bytes) -> _Said:
        response = ExplicitResponse.from_bytes(body)
        request = self.asked.pop((node, receiver), None)
        if request is None:
            return f"node {node} answers node {receiver}, yet no request came before it", True
        asked = f" to {_short(request)}"
        codes = response.error_codes
        if codes is not None:
            return f"node {node} refuses{asked}: {error_sentence(*codes)}", True
        if response.service != request.service:
            return (
                f"node {node} answers service 0x{response.service:02X}, "
                f"but 0x{request.service:02X} was asked"
            ), True
        return _response_words(node, request, response), False


def _header(data: bytes) -> tuple[ExplicitHeader, bytes]:
    if len(data) < 2:
        raise PlanError(
            f"an explicit message has {len(data)} bytes; a header and a service are the least."
        )
    return ExplicitHeader.from_byte(data[0]), data[1:]


def _acknowledge(fragment: Fragment) -> tuple[str, bool, None]:
    text = f"the acknowledge of fragment {fragment.count}"
    if fragment.data[0] == AckStatus.OK:
        return text, False, None
    return f"{text} with status {fragment.data[0]}: the message is too long for it", True, None


def _request_words(request: ExplicitRequest, node: int) -> str:
    place = object_name(request.class_id, request.instance)
    data = request.data
    attribute = request.attribute
    if request.service == Service.ALLOCATE and len(data) == 2:
        return f"wants to take node {node} as its device: {Allocation(data[0]).words}"
    if request.service == Service.RELEASE and len(data) == 1:
        return f"gives connections of node {node} back: {Allocation(data[0]).words}"
    if request.service == Service.RESET:
        return f"tells node {node} to reset"
    if attribute is None:
        return (
            f"asks node {node} for service 0x{request.service:02X} of {place}, "
            f"data {data.hex(' ').upper() or 'none'}"
        )
    name = attribute_name(request.class_id, attribute)
    if request.service == Service.GET_ATTRIBUTE:
        return f"asks node {node} for {name} of {place}"
    value = _value(request.class_id, attribute, data[1:])
    return f"sets {name} of {place} in node {node} to {value}"


def _response_words(node: int, request: ExplicitRequest, response: ExplicitResponse) -> str:
    attribute = request.attribute
    if request.service == Service.ALLOCATE:
        return f"node {node} accepts its master"
    if request.service == Service.RELEASE:
        return f"node {node} is released"
    if request.service == Service.GET_ATTRIBUTE and attribute is not None:
        value = _value(request.class_id, attribute, response.data)
        return f"node {node} answers: {attribute_name(request.class_id, attribute)} is {value}"
    if request.service == Service.SET_ATTRIBUTE and attribute is not None:
        return f"node {node} has set {attribute_name(request.class_id, attribute)}"
    data = f", data {response.data.hex(' ').upper()}" if response.data else ""
    return f"node {node} has carried out {_short(request)}{data}"


def _short(request: ExplicitRequest) -> str:
    if request.attribute is not None:
        verb = "read" if request.service == Service.GET_ATTRIBUTE else "write"
        return f"{verb} {attribute_name(request.class_id, request.attribute)}"
    try:
        return Service(request.service).name.lower()
    except ValueError:
        return f"service 0x{request.service:02X}"


def _value(class_id: int, attribute: int, data: bytes) -> str:
    shown = data.hex(" ").upper() or "no data"
    if not data or not is_number(class_id, attribute):
        return shown
    return f"{int.from_bytes(data, 'little')} ({shown})"

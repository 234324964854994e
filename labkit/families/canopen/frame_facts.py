"""What a CANopen frame says, fact by fact, with the mistakes that are made in reading it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final, Literal

from labkit.doors.frames import Fact, FrameValue
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.canopen.abort_codes import AbortCode
from labkit.fieldbus.canopen.emergency import Emergency
from labkit.fieldbus.canopen.heartbeat import StateByte
from labkit.fieldbus.canopen.identifiers import CobId, CommunicationObject
from labkit.fieldbus.canopen.nmt import NmtCommand, NmtMessage, NmtState
from labkit.fieldbus.canopen.sdo import (
    Abort,
    Multiplexor,
    ReadStarted,
    SdoReply,
    SdoRequest,
    StartRead,
    StartWrite,
    WriteStarted,
    decode_reply,
    decode_request,
)
from labkit.fieldbus.errors import PlanError

TELLS: Final = {
    "hex-as-decimal": "You copied hexadecimal digits; a decimal number is asked for.",
    "byte-order": "You read the bytes high first. CANopen sends the low byte first.",
    "sign-forgotten": "The number is signed: its highest bit set makes it negative.",
    "other-direction": "Seen from the other end: 580 + node comes from the device, 600 + node goes "
    "to it; transmit PDOs come from the device, receive PDOs go to it.",
    "identifier-for-node": "That is the whole identifier. The node-ID is what is left when the "
    "base is taken off.",
    "unused-for-size": "Those two bits count the bytes that are *not* used; take them from 4.",
    "access-exchanged": "0601 0001 is a read of what can only be written, 0601 0002 a write to "
    "what can only be read. Some manuals have them exchanged.",
    "toggle-in-state": "Bit 7 is the toggle bit of guarding; the state is in bits 6 to 0.",
}
OBJECT_WORDS: Final = [each.words for each in CommunicationObject]
COMMAND_WORDS: Final = [each.words for each in NmtCommand]
STATE_WORDS: Final = [each.words for each in NmtState]
REASON_WORDS: Final = [
    each.words
    for each in (
        AbortCode.TOGGLE,
        AbortCode.TIMED_OUT,
        AbortCode.WRITE_ONLY,
        AbortCode.READ_ONLY,
        AbortCode.NO_OBJECT,
        AbortCode.CANNOT_BE_MAPPED,
        AbortCode.MAPPING_TOO_LONG,
        AbortCode.LENGTH,
        AbortCode.TOO_LONG,
        AbortCode.TOO_SHORT,
        AbortCode.NO_SUBINDEX,
        AbortCode.OUT_OF_RANGE,
        AbortCode.TOO_HIGH,
        AbortCode.TOO_LOW,
        AbortCode.NOT_IN_THIS_STATE,
        AbortCode.GENERAL,
    )
]
"""Those that a technician meets; few enough to choose from."""
_Object = CommunicationObject
_OTHER_END: Final = {
    _Object.SDO_REQUEST: _Object.SDO_REPLY,
    _Object.SDO_REPLY: _Object.SDO_REQUEST,
    **{CommunicationObject[f"TPDO{at}"]: CommunicationObject[f"RPDO{at}"] for at in range(1, 5)},
    **{CommunicationObject[f"RPDO{at}"]: CommunicationObject[f"TPDO{at}"] for at in range(1, 5)},
}
_ACCESS: Final = {
    AbortCode.WRITE_ONLY: AbortCode.READ_ONLY,
    AbortCode.READ_ONLY: AbortCode.WRITE_ONLY,
}


def other_end(kind: CommunicationObject) -> CommunicationObject | None:
    """The object that goes the other way, None where there is none."""
    return _OTHER_END.get(kind)


@dataclass(frozen=True, slots=True)
class FrameRead:
    """An identifier and data taken apart. Raises `PlanError` where no frame can be so."""

    value: int
    data: bytes

    @property
    def cob_id(self) -> CobId:
        """What the frame is, and whose."""
        return CobId.from_value(self.value)

    def require(self, *kinds: CommunicationObject) -> CobId:
        """The same, where it is one of these."""
        found = self.cob_id
        if found.kind not in kinds:
            raise PlanError(f"{found.words} does not say that.")
        return found

    @property
    def sdo(self) -> SdoRequest | SdoReply:
        """The SDO message in the frame."""
        found = self.require(_Object.SDO_REQUEST, _Object.SDO_REPLY)
        asks = found.kind is _Object.SDO_REQUEST
        return decode_request(self.data) if asks else decode_reply(self.data)

    @property
    def at(self) -> Multiplexor:
        """Index and subindex that the SDO message names."""
        message = self.sdo
        if isinstance(message, StartRead | StartWrite | ReadStarted | WriteStarted | Abort):
            return message.at
        raise PlanError("a segment does not say which entry it belongs to.")

    @property
    def expedited(self) -> bytes:
        """The value that goes with an SDO message."""
        message = self.sdo
        if isinstance(message, StartWrite | ReadStarted) and message.data is not None:
            return message.data
        raise PlanError("this frame carries no value.")

    @property
    def abort(self) -> Abort:
        """The abort that it is."""
        message = self.sdo
        if isinstance(message, Abort):
            return message
        raise PlanError("this frame breaks nothing off.")

    @property
    def nmt(self) -> NmtMessage:
        """The NMT command that it is."""
        self.require(_Object.NMT)
        return NmtMessage.from_frame(Frame(self.value, self.data))

    @property
    def state(self) -> StateByte:
        """The state that it tells."""
        self.require(_Object.ERROR_CONTROL)
        return StateByte.from_bytes(self.data)


def _object(frame: FrameRead) -> Fact:
    found = frame.cob_id
    other = other_end(found.kind)
    slips = (("other-direction", other.words),) if other else ()
    return Fact("What it is", found.kind.words, slips, words=OBJECT_WORDS)


def _node(frame: FrameRead) -> Fact:
    node = frame.cob_id.node
    if node is None:
        raise PlanError("this frame's identifier names no node.")
    return Fact("Node-ID", node, (("identifier-for-node", frame.value), *_copied_digits(node)))


def _index(frame: FrameRead) -> Fact:
    return _hexadecimal("Index", frame.at.index.to_bytes(2, "little"))


def _subindex(frame: FrameRead) -> Fact:
    right = frame.at.subindex
    return Fact("Subindex", right, tuple(_copied_digits(right)))


def _value(frame: FrameRead) -> Fact:
    return number_fact("Value", frame.expedited)


def _size(frame: FrameRead) -> Fact:
    right = len(frame.expedited)
    return Fact("Bytes of the value", right, (("unused-for-size", 4 - right),))


def _code(frame: FrameRead) -> Fact:
    return _hexadecimal("Abort code", frame.abort.code.to_bytes(4, "little"))


def _reason(frame: FrameRead) -> Fact:
    abort = frame.abort
    if abort.words not in REASON_WORDS:
        raise PlanError(f"abort code {abort.code:08X} is not among the words to choose from.")
    other = _ACCESS.get(AbortCode(abort.code))
    slips = (("access-exchanged", other.words),) if other else ()
    return Fact("Why", abort.words, slips, words=REASON_WORDS)


def _command(frame: FrameRead) -> Fact:
    return Fact("Command", frame.nmt.command.words, words=COMMAND_WORDS)


def _to(frame: FrameRead) -> Fact:
    right = frame.nmt.node
    return Fact("For node (0: all)", right, tuple(_copied_digits(right)))


def _state(frame: FrameRead) -> Fact:
    return Fact("State", frame.state.state.words, words=STATE_WORDS)


def _state_number(frame: FrameRead) -> Fact:
    said = frame.state
    right = int(said.state)
    slips = (("toggle-in-state", frame.data[0]), *_copied_digits(right))
    return Fact("State as a number", right, slips)


def _toggle(frame: FrameRead) -> Fact:
    return Fact("Toggle bit", int(frame.state.toggle))


def _error(frame: FrameRead) -> Fact:
    frame.require(_Object.EMCY)
    code = Emergency.from_bytes(frame.data).code
    return _hexadecimal("Error code", code.to_bytes(2, "little"))


FACTS: Final[Mapping[str, Callable[[FrameRead], Fact]]] = {
    "object": _object,
    "node": _node,
    "index": _index,
    "subindex": _subindex,
    "value": _value,
    "size": _size,
    "code": _code,
    "reason": _reason,
    "command": _command,
    "to": _to,
    "state": _state,
    "state-number": _state_number,
    "toggle": _toggle,
    "error": _error,
}
"""What can be asked of a frame, by the name an author writes."""


def number_fact(label: str, data: bytes, *, signed: bool = False) -> Fact:
    """A whole number that stands in `data`, low byte first."""
    right = _read(data, "little", signed)
    slips: list[tuple[str, FrameValue]] = [("byte-order", _read(data, "big", signed))]
    if signed:
        slips.append(("sign-forgotten", _read(data, "little", False)))
    digits = data[::-1].hex().lstrip("0")
    if digits.isdecimal():
        slips.append(("hex-as-decimal", int(digits)))
    return Fact(label, right, tuple((slip, value) for slip, value in slips if value != right))


def _hexadecimal(label: str, data: bytes) -> Fact:
    right, wrong = _read(data, "little", False), _read(data, "big", False)
    slips = (("byte-order", wrong),) if wrong != right else ()
    return Fact(label, right, slips, digits=2 * len(data))


def _read(data: bytes, order: Literal["big", "little"], signed: bool) -> int:
    return int.from_bytes(data, order, signed=signed)


def _copied_digits(right: int) -> list[tuple[str, FrameValue]]:
    digits = f"{right:x}"
    copied = digits.isdecimal() and int(digits) != right
    return [("hex-as-decimal", int(digits))] if copied else []

"""A recording of the line in words: who asks what, who answers, who keeps still, what is spoiled.

Which frame answers which is in `conversation`.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from labkit.fieldbus.checked import every
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.addresses import BROADCAST
from labkit.fieldbus.modbus.conversation import Asked, answer_problem, as_reply
from labkit.fieldbus.modbus.frame import Frame
from labkit.fieldbus.modbus.functions import EXCEPTION_BIT, RefusedRequestError
from labkit.fieldbus.modbus.messages import (
    BitsReply,
    ExceptionReply,
    ReadRequest,
    RegistersReply,
    Reply,
    Request,
    WriteCoil,
    WriteRegister,
)
from labkit.fieldbus.modbus.registers import Entry, Table
from labkit.fieldbus.serial.receiving import Reception

MOST_SHOWN: Final = 16
"""Values of one frame that are said; the rest is counted."""


@dataclass(frozen=True, slots=True)
class Sentence:
    """What happened at `time_s`, and whether it is trouble."""

    time_s: float
    text: str
    trouble: bool = False


def decode_log(receptions: Iterable[Reception]) -> tuple[Sentence, ...]:
    """The sentences of a recording, in its order; `split_frames` gives the receptions.

    That a device has not answered is said when the master goes on.
    """
    said: list[Sentence] = []
    asked: Asked | None = None
    for reception in every(receptions, Reception, "The receptions"):
        try:
            frame = _frame(reception)
        except PlanError as error:
            said.append(Sentence(reception.start_s, f"nobody takes a frame: {error}", True))
            continue
        before = asked
        words, trouble, asked = _step(asked, frame)
        if before is not None and asked is not None and asked is not before:
            silent = f"device {before.address} has not answered"
            said.append(Sentence(reception.start_s, silent, True))
        said.append(Sentence(reception.start_s, words, trouble))
        if asked is not None and asked.address == BROADCAST:
            asked = None
    return tuple(said)


def _frame(reception: Reception) -> Frame:
    if reception.whole:
        return Frame.from_bytes(reception.data)
    raise PlanError(f"{'; '.join(reception.spoiled_by)}.")


def _step(asked: Asked | None, frame: Frame) -> tuple[str, bool, Asked | None]:
    """What a frame says, whether it is trouble, and the request that is under way after it."""
    here = asked is not None and asked.address == frame.address
    reply = as_reply(frame)
    if asked is not None and here and reply is not None and answer_problem(asked, reply) is None:
        return _answer(frame.address, asked, reply), isinstance(reply, ExceptionReply), None
    try:
        request = frame.request
    except RefusedRequestError as refused:
        if reply is None:
            return _unreadable(frame, refused)
    else:
        words = f"the master {_order(frame.address, request)}"
        return words, False, Asked(frame.address, request.function, request)
    if asked is not None and here:
        words = f"device {frame.address} answers, but not what it was asked"
        return f"{words}: {answer_problem(asked, reply)}", True, None
    words = f"device {frame.address} answers and was not asked just now"
    return f"{words}: it is too late, or another master asked it", True, asked


def _unreadable(frame: Frame, refused: RefusedRequestError) -> tuple[str, bool, Asked | None]:
    """A frame that is no reply, and no request that a device may carry out."""
    function = frame.message[0]
    if function & EXCEPTION_BIT:
        return f"device {frame.address} refuses in a form that cannot be read", True, None
    words = f"the master asks device {frame.address} what it has to refuse: {refused}"
    return words, True, Asked(frame.address, function, None)


def _order(address: int, request: Request) -> str:
    """What the master wants of whom."""
    whom = "all devices" if address == BROADCAST else f"device {address}"
    table = request.function.table
    if isinstance(request, WriteCoil):
        entry = Entry.at(table, request.address)
        state = "on" if request.on else "off"
        return f"tells {whom} to switch {state} the coil at {_place(entry)}"
    if isinstance(request, WriteRegister):
        entry = Entry.at(table, request.address)
        return f"tells {whom} to write {request.value} into the holding register at {_place(entry)}"
    entry = Entry.at(table, request.start)
    if isinstance(request, ReadRequest):
        return f"asks {whom} for {_counted(request.count, table)} from {_place(entry)} on"
    values = _listed([int(value) for value in request.values])
    many = _counted(len(request.values), table)
    return f"tells {whom} to write {many} from {_place(entry)} on: {values}"


def _answer(address: int, asked: Asked, reply: Reply) -> str:
    who = f"device {address}"
    if isinstance(reply, ExceptionReply):
        return f"{who} refuses (exception {reply.code:02X}): {reply.meaning}"
    if isinstance(reply, RegistersReply):
        return f"{who} answers: {_listed(reply.values)}"
    if isinstance(reply, BitsReply):
        assert isinstance(asked.request, ReadRequest)
        return f"{who} answers: {_listed([int(bit) for bit in reply.bits[: asked.request.count]])}"
    return f"{who} has done it"


def _place(entry: Entry) -> str:
    return f"address {entry.protocol_address} ({entry.text})"


def _counted(count: int, table: Table) -> str:
    return f"{count} {table.entry}{'' if count == 1 else 's'}"


def _listed(values: Sequence[int]) -> str:
    shown = ", ".join(str(value) for value in values[:MOST_SHOWN])
    left = len(values) - MOST_SHOWN
    return f"{shown} and {left} more" if left > 0 else shown

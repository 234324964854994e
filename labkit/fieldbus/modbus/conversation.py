"""Which frame answers which: nothing in a frame says whether it is a request or a reply.

It is a reply where it answers the request under way, else a request where it can be one. A single
write that is sent again looks like its reply and is taken for it.
"""

from dataclasses import dataclass

from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.frame import Frame
from labkit.fieldbus.modbus.messages import ExceptionReply, Reply, Request, reply_problem


@dataclass(frozen=True, slots=True)
class Asked:
    """The request under way; `request` is None of one that a device has to refuse."""

    address: int
    function: int
    request: Request | None


def as_reply(frame: Frame) -> Reply | None:
    """The frame as a reply; None where it is none."""
    try:
        return frame.reply
    except PlanError:
        return None


def answer_problem(asked: Asked, reply: Reply) -> str | None:
    """Why a reply of the device that was asked is no answer, in a sentence; None where it is."""
    if asked.request is not None:
        return reply_problem(asked.request, reply)
    if isinstance(reply, ExceptionReply) and reply.function == asked.function:
        return None
    return "A device has to refuse what it was asked."

"""How many bytes a device's connections produce and consume, as a master may ask.

The two attributes of the connection object are from memory of IEC 62026-3. The rules of who may
ask for what are `labkit.fieldbus.devicenet.serving`, which holds no sizes: only its refusal for
lack of the attribute is replaced here.
"""

from __future__ import annotations

from dataclasses import replace

from labkit.fieldbus.devicenet.connections import (
    CONNECTION_INSTANCE,
    Allocation,
    BusFrame,
    response_frames,
)
from labkit.fieldbus.devicenet.fragments import FRAME_BYTES
from labkit.fieldbus.devicenet.messages import ExplicitRequest, ExplicitResponse
from labkit.fieldbus.devicenet.node import Node
from labkit.fieldbus.devicenet.objects import GeneralError, ObjectClass, Service

PRODUCED_SIZE, CONSUMED_SIZE = 7, 8
"""Attributes of a connection object: bytes that the device produces, consumes."""

_LACKING = ExplicitResponse.error(GeneralError.ATTRIBUTE_NOT_SUPPORTED).to_bytes()


def with_sizes(node: Node, asked: bytes, answer: tuple[BusFrame, ...]) -> tuple[BusFrame, ...]:
    """The node's answer to the data of an explicit request, a size told where it was refused."""
    if len(answer) != 1 or answer[0].data[1:] != _LACKING:
        return answer
    request = ExplicitRequest.from_bytes(asked[1:])
    size = _size(node, request)
    if request.service != Service.GET_ATTRIBUTE or size is None:
        return answer
    response = ExplicitResponse(Service.GET_ATTRIBUTE, size.to_bytes(2, "little"))
    told = response_frames(response, node.address, asked[0] & 0x3F)[0]
    return (replace(told, data=answer[0].data[:1] + told.data[1:]),)


def _size(node: Node, request: ExplicitRequest) -> int | None:
    if request.class_id != ObjectClass.CONNECTION:
        return None
    if request.instance == CONNECTION_INSTANCE[Allocation.EXPLICIT]:
        return None
    if request.attribute == PRODUCED_SIZE:
        return len(node.inputs)
    if request.attribute == CONSUMED_SIZE:
        strobed = request.instance == CONNECTION_INSTANCE[Allocation.BIT_STROBE]
        return FRAME_BYTES if strobed else node.output_bytes
    return None

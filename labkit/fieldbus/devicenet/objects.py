"""Numbers that explicit messages use: services, object classes, attributes, error codes.

All from memory of IEC 62026-3 and the CIP common specification. A number that is not here is not
wrong: a device may have more classes, attributes and services of its own.
"""

from enum import IntEnum


class Service(IntEnum):
    """Service codes of explicit messages."""

    RESET = 0x05
    GET_ATTRIBUTE = 0x0E
    SET_ATTRIBUTE = 0x10
    ERROR = 0x14
    ALLOCATE = 0x4B
    RELEASE = 0x4C


class ObjectClass(IntEnum):
    """Object classes that every trainee meets."""

    IDENTITY = 1
    MESSAGE_ROUTER = 2
    DEVICENET = 3
    ASSEMBLY = 4
    CONNECTION = 5


class GeneralError(IntEnum):
    """First byte of an error reply."""

    RESOURCE_UNAVAILABLE = 0x02
    PATH_UNKNOWN = 0x05
    SERVICE_NOT_SUPPORTED = 0x08
    INVALID_VALUE = 0x09
    ALREADY_IN_STATE = 0x0B
    OBJECT_STATE_CONFLICT = 0x0C
    NOT_SETTABLE = 0x0E
    PRIVILEGE_VIOLATION = 0x0F
    DEVICE_STATE_CONFLICT = 0x10
    REPLY_TOO_LARGE = 0x11
    NOT_ENOUGH_DATA = 0x13
    ATTRIBUTE_NOT_SUPPORTED = 0x14
    TOO_MUCH_DATA = 0x15
    OBJECT_DOES_NOT_EXIST = 0x16
    INVALID_PARAMETER = 0x20


NODE_ADDRESS_ATTRIBUTE = 1
"""Attribute of the DeviceNet object that holds the node address, one byte."""

PACKET_RATE_ATTRIBUTE = 9
"""Attribute of a connection that holds its expected packet rate, in ms, two bytes low first."""

PRODUCED_SIZE, CONSUMED_SIZE = 7, 8
"""Attributes of an I/O connection: bytes that the device produces, consumes (from memory)."""

CLASS_NAMES = {
    ObjectClass.IDENTITY: "identity",
    ObjectClass.MESSAGE_ROUTER: "message router",
    ObjectClass.DEVICENET: "DeviceNet",
    ObjectClass.ASSEMBLY: "assembly",
    ObjectClass.CONNECTION: "connection",
}

ATTRIBUTE_NAMES = {
    (ObjectClass.IDENTITY, 1): "vendor id",
    (ObjectClass.IDENTITY, 2): "device type",
    (ObjectClass.IDENTITY, 3): "product code",
    (ObjectClass.IDENTITY, 4): "revision",
    (ObjectClass.IDENTITY, 5): "status",
    (ObjectClass.IDENTITY, 6): "serial number",
    (ObjectClass.IDENTITY, 7): "product name",
    (ObjectClass.DEVICENET, NODE_ADDRESS_ATTRIBUTE): "node address",
    (ObjectClass.DEVICENET, 2): "data rate code",
    (ObjectClass.DEVICENET, 3): "bus-off action",
    (ObjectClass.DEVICENET, 4): "bus-off counter",
    (ObjectClass.DEVICENET, 5): "allocation",
    (ObjectClass.ASSEMBLY, 3): "data",
    (ObjectClass.CONNECTION, 1): "state",
    (ObjectClass.CONNECTION, 7): "produced size",
    (ObjectClass.CONNECTION, 8): "consumed size",
    (ObjectClass.CONNECTION, PACKET_RATE_ATTRIBUTE): "expected packet rate",
    (ObjectClass.CONNECTION, 12): "action on time-out",
}

NUMBER_ATTRIBUTES = {
    (ObjectClass.IDENTITY, 1),
    (ObjectClass.IDENTITY, 2),
    (ObjectClass.IDENTITY, 3),
    (ObjectClass.IDENTITY, 6),
    (ObjectClass.DEVICENET, NODE_ADDRESS_ATTRIBUTE),
    (ObjectClass.DEVICENET, 2),
    (ObjectClass.DEVICENET, 4),
    (ObjectClass.CONNECTION, 1),
    (ObjectClass.CONNECTION, 7),
    (ObjectClass.CONNECTION, 8),
    (ObjectClass.CONNECTION, PACKET_RATE_ATTRIBUTE),
}
"""Attributes that are one number, low byte first."""

ERROR_SENTENCES = {
    GeneralError.RESOURCE_UNAVAILABLE: "it has no room for that",
    GeneralError.PATH_UNKNOWN: "it does not know that path",
    GeneralError.SERVICE_NOT_SUPPORTED: "it does not support that service",
    GeneralError.INVALID_VALUE: "the value is not valid",
    GeneralError.ALREADY_IN_STATE: "it is in that state already",
    GeneralError.OBJECT_STATE_CONFLICT: "the object's state does not allow it",
    GeneralError.NOT_SETTABLE: "the attribute cannot be written",
    GeneralError.PRIVILEGE_VIOLATION: "the sender may not do that",
    GeneralError.DEVICE_STATE_CONFLICT: "the device's state does not allow it",
    GeneralError.REPLY_TOO_LARGE: "the reply would be too long",
    GeneralError.NOT_ENOUGH_DATA: "the request holds too few bytes",
    GeneralError.ATTRIBUTE_NOT_SUPPORTED: "it has no such attribute",
    GeneralError.TOO_MUCH_DATA: "the request holds too many bytes",
    GeneralError.OBJECT_DOES_NOT_EXIST: "it has no such object",
    GeneralError.INVALID_PARAMETER: "a parameter is not valid",
}


def object_name(class_id: int, instance: int) -> str:
    """`the identity object, instance 1` or, for a class that has no name here, its number."""
    known = _class_of(class_id)
    name = f"class {class_id}" if known is None else f"the {CLASS_NAMES[known]} object"
    return f"{name}, instance {instance}"


def attribute_name(class_id: int, attribute: int) -> str:
    """`attribute 6 (serial number)`, the name left out where it is not known."""
    known = _class_of(class_id)
    name = None if known is None else ATTRIBUTE_NAMES.get((known, attribute))
    return f"attribute {attribute}" + (f" ({name})" if name else "")


def is_number(class_id: int, attribute: int) -> bool:
    """Whether an attribute's value is known to be one number, low byte first."""
    known = _class_of(class_id)
    return known is not None and (known, attribute) in NUMBER_ATTRIBUTES


def error_sentence(general: int, additional: int) -> str:
    """An error reply in words, with its codes."""
    codes = f"general error 0x{general:02X}"
    if additional != 0xFF:
        codes += f", additional 0x{additional:02X}"
    try:
        why = ERROR_SENTENCES[GeneralError(general)]
    except ValueError:
        why = "for a reason of its own"
    return f"{why} ({codes})"


def _class_of(class_id: int) -> ObjectClass | None:
    try:
        return ObjectClass(class_id)
    except ValueError:
        return None

"""Who a device is, its data sheet and its long messages, as formulas ask for them.

A device is a group: {"name": "valves", "maker": 412, "type": 7, "code": 23, "revision": [2, 4]},
for a data sheet also `connections`: {"poll": [20, 12]}, the bits in and out of each kind. `name`
and `revision` may be left out where nothing asks for them.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Final

from labkit.fieldbus.devicenet.connections import ConnectionKind
from labkit.fieldbus.devicenet.device_sheet import DeviceSheet, Sizes
from labkit.fieldbus.devicenet.fragments import io_frame_lengths
from labkit.fieldbus.devicenet.identity import PRODUCT_KEYS, Identity, IdentityKey

Device = Mapping[str, Any]
_KINDS: Final = {kind.value: kind for kind in ConnectionKind}
_FIELDS: Final = ("name", "maker", "type", "code", "revision", "connections")


def device_sheet(device: Device) -> str:
    """The device's electronic data sheet, for a block of plain text."""
    return _sheet(device).to_text()


def sheet_bytes(device: Device, kind: str) -> list[int]:
    """Bytes in and out of one kind of connection, by the data sheet."""
    return list(_sheet(device).sizes(_kind(kind)).bytes_in_and_out)


def identity_reply(device: Device, attribute: int) -> list[int]:
    """The bytes with which a device answers for an attribute (1 to 4) of its identity object."""
    return list(_identity(device).attribute(attribute))


def identity_differs(planned: Device, found: Device, revision: bool = False) -> list[str]:
    """What keeps `found` from the place of `planned`, in words; with `revision` that too."""
    keys = (*PRODUCT_KEYS, IdentityKey.REVISION) if revision else PRODUCT_KEYS
    return [key.value for key in _identity(found).differs_from(_identity(planned), keys)]


def _identity(device: Device) -> Identity:
    known = isinstance(device, Mapping) and device.keys() <= set(_FIELDS)
    if not known or not {"maker", "type", "code"} <= device.keys():
        raise ValueError(
            f"a device is a group of {', '.join(_FIELDS)}, maker, type and code at least; "
            f"{device!r} is not"
        )
    major, minor = device.get("revision", (1, 1))
    return Identity(device["maker"], device["type"], device["code"], (major, minor))


def _sheet(device: Device) -> DeviceSheet:
    identity = _identity(device)
    carried = device.get("connections") or {}
    sizes = {_kind(kind): Sizes(*bits) for kind, bits in carried.items()}
    return DeviceSheet(str(device.get("name", "device")), identity, sizes)


def _kind(words: str) -> ConnectionKind:
    if words not in _KINDS:
        raise ValueError(f"a connection is one of {', '.join(_KINDS)}; {words!r} is not")
    return _KINDS[words]


IDENTITY_FUNCTIONS: Final[Mapping[str, Any]] = MappingProxyType(
    {
        "device_sheet": device_sheet,
        "identity_differs": identity_differs,
        "identity_reply": identity_reply,
        "io_frame_lengths": io_frame_lengths,
        "sheet_bytes": sheet_bytes,
    }
)

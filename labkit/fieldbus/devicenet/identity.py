"""Who a device is by its identity object (class 1), and what a scan list may hold against it.

Attributes 1 vendor, 2 device type, 3 product code, 4 revision, 6 serial number: public device
manuals (reference page). From memory of the CIP common specification: their lengths (two bytes
each, the serial number four, the revision its major number and then its minor one), and that a
revision fits where its major number is the same and its minor number is not lower.
"""

from collections.abc import Collection
from dataclasses import dataclass
from enum import Enum

from labkit.fieldbus.checked import whole
from labkit.fieldbus.errors import PlanError


class IdentityKey(Enum):
    """What a scan list may compare of a device before the scanner takes it."""

    VENDOR = "vendor id"
    DEVICE_TYPE = "device type"
    PRODUCT_CODE = "product code"
    REVISION = "revision"


PRODUCT_KEYS = (IdentityKey.VENDOR, IdentityKey.DEVICE_TYPE, IdentityKey.PRODUCT_CODE)
"""The usual ones: which product it is, whatever its revision (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Identity:
    """What a device says of itself. `revision` is (major, minor), 1 to 127 and 1 to 255.

    >>> Identity(412, 7, 23, (2, 4)).attribute(3).hex(" ")
    '17 00'
    """

    vendor: int
    device_type: int
    product_code: int
    revision: tuple[int, int] = (1, 1)
    serial: int = 0

    def __post_init__(self) -> None:
        whole(self.vendor, "the vendor id", 0, 0xFFFF)
        whole(self.device_type, "the device type", 0, 0xFFFF)
        whole(self.product_code, "the product code", 0, 0xFFFF)
        whole(self.serial, "the serial number", 0, 0xFFFF_FFFF)
        major, minor = self.revision
        whole(major, "the major revision", 1, 127)
        whole(minor, "the minor revision", 1, 255)
        object.__setattr__(self, "revision", (major, minor))

    @property
    def attributes(self) -> dict[int, bytes]:
        """The identity object's attributes by number, as they stand in a reply."""
        return {
            1: self.vendor.to_bytes(2, "little"),
            2: self.device_type.to_bytes(2, "little"),
            3: self.product_code.to_bytes(2, "little"),
            4: bytes(self.revision),
            6: self.serial.to_bytes(4, "little"),
        }

    def attribute(self, number: int) -> bytes:
        """One of them; `PlanError` for any other."""
        found = self.attributes.get(number)
        if found is None:
            known = ", ".join(str(each) for each in self.attributes)
            raise PlanError(f"the identity object has no attribute {number} here; ask {known}.")
        return found

    def differs_from(
        self, planned: "Identity", keys: Collection[IdentityKey] = PRODUCT_KEYS
    ) -> tuple[IdentityKey, ...]:
        """The keys that keep this device from standing where `planned` should; none: it fits."""
        return tuple(key for key in IdentityKey if key in keys and not self._fits(planned, key))

    def _fits(self, planned: "Identity", key: IdentityKey) -> bool:
        if key is IdentityKey.VENDOR:
            return self.vendor == planned.vendor
        if key is IdentityKey.DEVICE_TYPE:
            return self.device_type == planned.device_type
        if key is IdentityKey.PRODUCT_CODE:
            return self.product_code == planned.product_code
        same_major = self.revision[0] == planned.revision[0]
        return same_major and self.revision[1] >= planned.revision[1]

"""What the scanner asks of a device to know which product it is, and what it says of another."""

from __future__ import annotations

from labkit.fieldbus.devicenet.identity import PRODUCT_KEYS, Identity
from labkit.fieldbus.devicenet.messages import ExplicitRequest
from labkit.fieldbus.devicenet.objects import ObjectClass

ASKED = len(PRODUCT_KEYS)
"""Attributes 1 to 3 of the identity object: vendor id, device type, product code."""


def product_request(attribute: int) -> ExplicitRequest:
    """The question for one of them."""
    return ExplicitRequest.get_attribute(ObjectClass.IDENTITY, 1, attribute)


def another_product(told: tuple[int, ...], planned: Identity) -> str:
    """In which numbers a device is another product than planned; empty where it is that one."""
    vendor, device_type, product_code = told
    wrong = Identity(vendor, device_type, product_code).differs_from(planned)
    by_plan = (planned.vendor, planned.device_type, planned.product_code)
    return "; ".join(
        f"its {key.value} is {said}, the scan list says {wanted}"
        for key, said, wanted in zip(PRODUCT_KEYS, told, by_plan, strict=True)
        if key in wrong
    )

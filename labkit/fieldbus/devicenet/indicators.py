"""The two status indicators of a node: what each look means (IEC 62026-3, reference page).

The module status indicator's table is from memory of IEC 62026-3.
"""

from enum import Enum


class Indicator(Enum):
    """How a two-colour indicator looks."""

    OFF = "off"
    GREEN = "green"
    FLASHING_GREEN = "flashing green"
    RED = "red"
    FLASHING_RED = "flashing red"
    FLASHING_RED_GREEN = "flashing red and green"


class Health(Enum):
    """Condition of the device itself, apart from the network."""

    WORKING = "working"
    NEEDS_COMMISSIONING = "needs commissioning"
    RECOVERABLE_FAULT = "recoverable fault"
    UNRECOVERABLE_FAULT = "must be replaced"


NETWORK_MEANING = {
    Indicator.OFF: "not powered, or the duplicate address check is not finished",
    Indicator.FLASHING_GREEN: "on line, no connection established",
    Indicator.GREEN: "on line, connected",
    Indicator.FLASHING_RED: "an I/O connection timed out",
    Indicator.RED: "cannot communicate: duplicate address or bus-off",
    Indicator.FLASHING_RED_GREEN: "self-test",
}
"""What the network status indicator says of the node (IEC 62026-3)."""

MODULE_INDICATOR = {
    Health.WORKING: Indicator.GREEN,
    Health.NEEDS_COMMISSIONING: Indicator.FLASHING_GREEN,
    Health.RECOVERABLE_FAULT: Indicator.FLASHING_RED,
    Health.UNRECOVERABLE_FAULT: Indicator.RED,
}
"""What the module status indicator shows by the health of the device."""

MODULE_MEANING = {
    Indicator.OFF: "no power",
    Indicator.GREEN: "working",
    Indicator.FLASHING_GREEN: "needs commissioning: no or wrong configuration",
    Indicator.FLASHING_RED: "recoverable fault",
    Indicator.RED: "unrecoverable fault: the device must be replaced",
    Indicator.FLASHING_RED_GREEN: "self-test",
}
"""What the module status indicator says of the device (from memory of IEC 62026-3)."""

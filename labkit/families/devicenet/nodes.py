"""What is set at a DeviceNet node: an address from 0 to 63, a data rate (IEC 62026-3)."""

from typing import Final

from labkit.doors.family import NodeSettings
from labkit.fieldbus.devicenet.cable import DATA_RATES
from labkit.fieldbus.devicenet.parts import HIGHEST_ADDRESS

NODES: Final = NodeSettings(addresses=range(HIGHEST_ADDRESS + 1), rates=DATA_RATES)

"""What is set at a device on the line: an address from 1 to 247, a bit rate (V1.02, 2.2 and 3.2).

Every device has 9.6 and 19.2 kbit/s; the other rates are those that it may have besides (3.2, from
memory). The master has no address.
"""

from typing import Final

from labkit.doors.family import NodeSettings
from labkit.fieldbus.modbus.addresses import DEVICE_ADDRESSES

NODES: Final = NodeSettings(
    addresses=DEVICE_ADDRESSES, rates=(1.2, 2.4, 4.8, 9.6, 19.2, 38.4, 57.6, 115.2)
)

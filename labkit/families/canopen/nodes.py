"""What is set at a node: a node-ID from 1 to 127, a bit rate (CiA 301)."""

from typing import Final

from labkit.doors.family import NodeSettings
from labkit.fieldbus.canopen.lengths import RATE_LIMITS
from labkit.fieldbus.canopen.node_ids import NODE_IDS

NODES: Final = NodeSettings(
    addresses=NODE_IDS,
    rates=tuple(float(row.bit_rate_kbps) for row in reversed(RATE_LIMITS)),
)

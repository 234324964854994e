"""Signals on a bus line: voltages at each node after edges and bits, and what receivers read."""

from labkit.fieldbus.line.reading import (
    DOMINANT_VOLT,
    RECESSIVE_VOLT,
    SAMPLE_POINT,
    Reading,
    first_edge_s,
    level_of,
    read_bits,
)
from labkit.fieldbus.line.topology import LinePiece, LineTopology, Terminator, Transceiver
from labkit.fieldbus.line.waves import (
    Waveforms,
    drive_bits,
    drive_edge,
    follow_edge,
    inject,
    settled_levels,
)

__all__ = [
    "DOMINANT_VOLT",
    "RECESSIVE_VOLT",
    "SAMPLE_POINT",
    "LinePiece",
    "LineTopology",
    "Reading",
    "Terminator",
    "Transceiver",
    "Waveforms",
    "drive_bits",
    "drive_edge",
    "first_edge_s",
    "follow_edge",
    "inject",
    "level_of",
    "read_bits",
    "settled_levels",
]

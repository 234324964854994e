"""Classical CAN (ISO 11898-1): frames, bits, arbitration, bit timing, errors, response times."""

from labkit.fieldbus.can.arbitration import Arbitration, Collision, Dropout, arbitrate
from labkit.fieldbus.can.bits import crc15, stuff, unstuff
from labkit.fieldbus.can.busrates import (
    RECOMMENDED_RATES,
    fastest_rate_kbps,
    recommended_length_m,
    recommended_length_rule,
)
from labkit.fieldbus.can.confinement import BusEvent, ErrorCounters, NodeState, lone_transmitter
from labkit.fieldbus.can.duplicates import Attempt, meet, meetings_to_bus_off
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.length import (
    duration_us,
    exact_bits,
    logged_load,
    unstuffed_bits,
    worst_case_bits,
)
from labkit.fieldbus.can.log_reading import Logged, LogReader
from labkit.fieldbus.can.logline import LogLine
from labkit.fieldbus.can.response import Message, MessageSet, Response
from labkit.fieldbus.can.timing import BitTiming, BusDelays
from labkit.fieldbus.can.wire import (
    BusError,
    BusErrorKind,
    Decoding,
    Field,
    FieldSpan,
    WireBit,
    WireFrame,
    decode,
    encode,
)

__all__ = [
    "RECOMMENDED_RATES",
    "Arbitration",
    "Attempt",
    "BitTiming",
    "BusDelays",
    "BusError",
    "BusErrorKind",
    "BusEvent",
    "Collision",
    "Decoding",
    "Dropout",
    "ErrorCounters",
    "Field",
    "FieldSpan",
    "Frame",
    "LogLine",
    "LogReader",
    "Logged",
    "Message",
    "MessageSet",
    "NodeState",
    "Response",
    "WireBit",
    "WireFrame",
    "arbitrate",
    "crc15",
    "decode",
    "duration_us",
    "encode",
    "exact_bits",
    "fastest_rate_kbps",
    "logged_load",
    "lone_transmitter",
    "meet",
    "meetings_to_bus_off",
    "recommended_length_m",
    "recommended_length_rule",
    "stuff",
    "unstuff",
    "unstuffed_bits",
    "worst_case_bits",
]

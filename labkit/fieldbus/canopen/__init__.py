"""CANopen (CiA 301, 303, 306): bus and cable, identifiers, NMT, SDO, PDO, data sheets, logs.

Lengths are in m, bit rates in kbit/s, times in the unit that their name ends with. What cannot
exist raises `labkit.fieldbus.PlanError`; rules are `labkit.fieldbus.RuleResult`s. Frames, bit
timing, error counters and what two senders of one identifier do to each other are those of
`labkit.fieldbus.can`.

Sources: CiA 301, 303-1, 303-3 and 306 as several public device manuals print them, beside each
value; where manuals disagree, both are there by name. What no second source confirmed says "from
memory". The README in `labkit/fieldbus/` shows how it is used.
"""

from labkit.fieldbus.canopen.abort_codes import (
    AbortCode,
    abort_words,
)
from labkit.fieldbus.canopen.cable import (
    CABLE_CLASSES,
    CONTACT_MILLIOHM,
    D_SUB_PINS,
    DELAY_NS_PER_M,
    IMPEDANCE_OHM,
    MARGIN,
    MILLIOHM_BY_SECTION,
    CableClass,
    cable_class,
    check_cable,
    check_reach,
    load_ohm,
    longest_by_cable_m,
)
from labkit.fieldbus.canopen.data_sheet import (
    DataSheet,
    DeviceFacts,
    read_data_sheet,
)
from labkit.fieldbus.canopen.data_types import (
    DataType,
    Value,
    decode_value,
    encode_value,
)
from labkit.fieldbus.canopen.decoder import (
    KnownPdo,
    Sentence,
    decode_log,
    frame_words,
)
from labkit.fieldbus.canopen.dictionary import (
    Access,
    Entry,
    ObjectDictionary,
)
from labkit.fieldbus.canopen.emergency import (
    EMERGENCY_CODES,
    ERROR_REGISTER_BITS,
    Emergency,
    emergency_words,
    register_words,
)
from labkit.fieldbus.canopen.heartbeat import (
    GuardedNode,
    HeartbeatConsumer,
    StateByte,
    check_heartbeat,
    guard_request,
    heartbeat_frame,
    life_time_ms,
    toggle_faults,
)
from labkit.fieldbus.canopen.identifiers import (
    CobId,
    CommunicationObject,
    IdentifierProblem,
    check_senders,
    predefined_set,
    restricted_to,
)
from labkit.fieldbus.canopen.indicators import (
    ERROR_PATTERN,
    RUN_MEANING,
    NodeFault,
    Pattern,
    error_pattern,
    run_pattern,
)
from labkit.fieldbus.canopen.lengths import (
    RATE_LIMITS,
    RateLimits,
    check_lengths,
    fastest_rate,
    rate_limits,
)
from labkit.fieldbus.canopen.network import Bus, BusNode, check_bus, check_terminators
from labkit.fieldbus.canopen.nmt import (
    ALL_NODES,
    NmtCommand,
    NmtMessage,
    NmtNode,
    NmtState,
    boot_up_frame,
)
from labkit.fieldbus.canopen.node_ids import (
    NODE_IDS,
    check_node_ids,
    complete_node_ids,
    node_id,
)
from labkit.fieldbus.canopen.pdo import (
    Direction,
    MappedObject,
    PdoMapping,
    PdoSettings,
    check_mapping_length,
    mappable,
    read_identifier_word,
    record_of,
)
from labkit.fieldbus.canopen.pdo_rules import (
    pdo_of,
    pdo_refusal,
)
from labkit.fieldbus.canopen.pdo_steps import (
    SdoWrite,
    mapping_steps,
)
from labkit.fieldbus.canopen.propagation import (
    MANUAL_DELAYS,
    NOTE_DELAYS_NS,
    NOTE_SAMPLE_POINTS,
    RECOMMENDED_SAMPLE_POINT,
    check_manual,
    check_note,
    longest_by_delays_m,
)
from labkit.fieldbus.canopen.sdo import (
    Abort,
    AskSegment,
    Multiplexor,
    ReadStarted,
    SdoReply,
    SdoRequest,
    Segment,
    SegmentTaken,
    StartRead,
    StartWrite,
    WriteStarted,
    decode_reply,
    decode_request,
)
from labkit.fieldbus.canopen.sdo_transfer import (
    join,
    read_exchange,
    reply_frame,
    request_frame,
    segments,
    write_exchange,
)
from labkit.fieldbus.canopen.serving import (
    Device,
)
from labkit.fieldbus.canopen.sheet_text import (
    DataSheetError,
    Problem,
)
from labkit.fieldbus.canopen.traffic import (
    PdoTraffic,
    Traffic,
)
from labkit.fieldbus.canopen.transmission import (
    Sync,
    Trigger,
    send_times_ms,
    sent_at_sync,
    transmission_words,
    trigger,
)

__all__ = [
    "ALL_NODES",
    "CABLE_CLASSES",
    "CONTACT_MILLIOHM",
    "DELAY_NS_PER_M",
    "D_SUB_PINS",
    "EMERGENCY_CODES",
    "ERROR_PATTERN",
    "ERROR_REGISTER_BITS",
    "IMPEDANCE_OHM",
    "MANUAL_DELAYS",
    "MARGIN",
    "MILLIOHM_BY_SECTION",
    "NODE_IDS",
    "NOTE_DELAYS_NS",
    "NOTE_SAMPLE_POINTS",
    "RATE_LIMITS",
    "RECOMMENDED_SAMPLE_POINT",
    "RUN_MEANING",
    "Abort",
    "AbortCode",
    "Access",
    "AskSegment",
    "Bus",
    "BusNode",
    "CableClass",
    "CobId",
    "CommunicationObject",
    "DataSheet",
    "DataSheetError",
    "DataType",
    "Device",
    "DeviceFacts",
    "Direction",
    "Emergency",
    "Entry",
    "GuardedNode",
    "HeartbeatConsumer",
    "IdentifierProblem",
    "KnownPdo",
    "MappedObject",
    "Multiplexor",
    "NmtCommand",
    "NmtMessage",
    "NmtNode",
    "NmtState",
    "NodeFault",
    "ObjectDictionary",
    "Pattern",
    "PdoMapping",
    "PdoSettings",
    "PdoTraffic",
    "Problem",
    "RateLimits",
    "ReadStarted",
    "SdoReply",
    "SdoRequest",
    "SdoWrite",
    "Segment",
    "SegmentTaken",
    "Sentence",
    "StartRead",
    "StartWrite",
    "StateByte",
    "Sync",
    "Traffic",
    "Trigger",
    "Value",
    "WriteStarted",
    "abort_words",
    "boot_up_frame",
    "cable_class",
    "check_bus",
    "check_cable",
    "check_heartbeat",
    "check_lengths",
    "check_manual",
    "check_mapping_length",
    "check_node_ids",
    "check_note",
    "check_reach",
    "check_senders",
    "check_terminators",
    "complete_node_ids",
    "decode_log",
    "decode_reply",
    "decode_request",
    "decode_value",
    "emergency_words",
    "encode_value",
    "error_pattern",
    "fastest_rate",
    "frame_words",
    "guard_request",
    "heartbeat_frame",
    "join",
    "life_time_ms",
    "load_ohm",
    "longest_by_cable_m",
    "longest_by_delays_m",
    "mappable",
    "mapping_steps",
    "node_id",
    "pdo_of",
    "pdo_refusal",
    "predefined_set",
    "rate_limits",
    "read_data_sheet",
    "read_exchange",
    "read_identifier_word",
    "record_of",
    "register_words",
    "reply_frame",
    "request_frame",
    "restricted_to",
    "run_pattern",
    "segments",
    "send_times_ms",
    "sent_at_sync",
    "toggle_faults",
    "transmission_words",
    "trigger",
    "write_exchange",
]

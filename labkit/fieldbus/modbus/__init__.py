"""Modbus on a serial line: addresses, messages, frames, registers, times; lines as planned.

A plan is a `Network` of taps, devices, terminators and polarization; lengths in m, resistances in
Ω, bit rates in bit/s, times in s. What cannot be built raises `labkit.fieldbus.PlanError`; broken
rules are `labkit.fieldbus.RuleResult`s.

Sources: MODBUS over Serial Line, Specification and Implementation Guide V1.02 (2006), said as
"V1.02" with its section, and the Modbus application protocol V1.1b3, whose section numbers are from
memory; both are open. What stands in neither says "from memory" or "common practice, no source".
The README in `labkit/fieldbus/` shows how it is used.
"""

from labkit.fieldbus.modbus.addresses import (
    BROADCAST,
    DEVICE_ADDRESSES,
    AddressUse,
    address_use,
    check_addresses,
    complete_addresses,
    device_address,
)
from labkit.fieldbus.modbus.decoder import Sentence, decode_log
from labkit.fieldbus.modbus.frame import (
    LEAST_FRAME_BYTES,
    MOST_FRAME_BYTES,
    Frame,
    crc_bytes,
)
from labkit.fieldbus.modbus.functions import (
    MOST_BITS_READ,
    MOST_BITS_WRITTEN,
    MOST_REGISTERS_READ,
    MOST_REGISTERS_WRITTEN,
    ExceptionCode,
    Function,
    RefusedRequestError,
)
from labkit.fieldbus.modbus.heard import Ear, Heard, HeardDevice, PlannedDevice, PlannedLine
from labkit.fieldbus.modbus.heard_and_planned import hold_against_plan
from labkit.fieldbus.modbus.linecircuit import LineCircuit
from labkit.fieldbus.modbus.messages import (
    BitsReply,
    ExceptionReply,
    ReadRequest,
    RegistersReply,
    Reply,
    Request,
    WriteCoil,
    WriteCoils,
    WriteRegister,
    WriteRegisters,
    WrittenReply,
    decode_reply,
    decode_request,
    reply_problem,
)
from labkit.fieldbus.modbus.network import Network, Spot
from labkit.fieldbus.modbus.parts import (
    Cable,
    Derivation,
    Device,
    Place,
    Polarization,
    Tap,
    Terminator,
)
from labkit.fieldbus.modbus.registers import Entry, Table
from labkit.fieldbus.modbus.rules import (
    check_driver_load,
    check_earth,
    check_idle_voltage,
    check_lengths,
    check_loads,
    check_network,
    check_polarization,
    check_settings,
    check_terminators,
    most_devices,
)
from labkit.fieldbus.modbus.serving import DeviceTables
from labkit.fieldbus.modbus.timing import (
    REPLY_TIMEOUT_S,
    TURNAROUND_S,
    MasterSettings,
    Poll,
    PollCycle,
    PollTime,
    poll_cycle,
    poll_time,
)
from labkit.fieldbus.modbus.values import (
    NumberKind,
    WordOrder,
    all_readings,
    from_registers,
    to_registers,
)

__all__ = [
    "BROADCAST",
    "DEVICE_ADDRESSES",
    "LEAST_FRAME_BYTES",
    "MOST_BITS_READ",
    "MOST_BITS_WRITTEN",
    "MOST_FRAME_BYTES",
    "MOST_REGISTERS_READ",
    "MOST_REGISTERS_WRITTEN",
    "REPLY_TIMEOUT_S",
    "TURNAROUND_S",
    "AddressUse",
    "BitsReply",
    "Cable",
    "Derivation",
    "Device",
    "DeviceTables",
    "Ear",
    "Entry",
    "ExceptionCode",
    "ExceptionReply",
    "Frame",
    "Function",
    "Heard",
    "HeardDevice",
    "LineCircuit",
    "MasterSettings",
    "Network",
    "NumberKind",
    "Place",
    "PlannedDevice",
    "PlannedLine",
    "Polarization",
    "Poll",
    "PollCycle",
    "PollTime",
    "ReadRequest",
    "RefusedRequestError",
    "RegistersReply",
    "Reply",
    "Request",
    "Sentence",
    "Spot",
    "Table",
    "Tap",
    "Terminator",
    "WordOrder",
    "WriteCoil",
    "WriteCoils",
    "WriteRegister",
    "WriteRegisters",
    "WrittenReply",
    "address_use",
    "all_readings",
    "check_addresses",
    "check_driver_load",
    "check_earth",
    "check_idle_voltage",
    "check_lengths",
    "check_loads",
    "check_network",
    "check_polarization",
    "check_settings",
    "check_terminators",
    "complete_addresses",
    "crc_bytes",
    "decode_log",
    "decode_reply",
    "decode_request",
    "device_address",
    "from_registers",
    "hold_against_plan",
    "most_devices",
    "poll_cycle",
    "poll_time",
    "reply_problem",
    "to_registers",
]

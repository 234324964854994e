"""Modbus on a serial line (V1.02): where its parts are."""

from labkit.doors.family import Family

FAMILY = Family(
    network="labkit.families.modbus.network_reading:ModbusFamily",
    bench="labkit.families.modbus.bench.setup:ModbusBench",
    bench_reading="labkit.families.modbus.bench_reading:ModbusBenchReading",
    nodes="labkit.families.modbus.nodes:NODES",
    switches="labkit.families.modbus.switches:ModbusSwitches",
    frames="labkit.families.modbus.frames:ModbusFrames",
    frame_reading="labkit.families.modbus.frame_reading:ModbusFrameReading",
    rig="labkit.families.modbus.rig:ModbusRig",
)

"""Modbus on a serial line (V1.02): where its parts are."""

from labkit.doors.family import Family

FAMILY = Family(
    network="labkit.families.modbus.network_reading:ModbusFamily",
    bench="labkit.families.modbus.bench.setup:ModbusBench",
    bench_reading="labkit.families.modbus.bench_reading:ModbusBenchReading",
    nodes="labkit.families.modbus.nodes:NODES",
    switches="labkit.families.modbus.switches:ModbusSwitches",
    review="labkit.families.modbus.review:ModbusReview",
    frames="labkit.families.modbus.frames:ModbusFrames",
    frame_reading="labkit.families.modbus.frame_reading:ModbusFrameReading",
    left_out={
        "supply": "Each device of a Modbus line is fed on its own: the cable carries no power, "
        "and no supply stands on the trunk.",
        "plans": "A whole plan has a supply and a scan list, and a Modbus line has neither.",
    },
    listening="labkit.families.modbus.listening:ModbusListening",
    rig="labkit.families.modbus.rig:ModbusRig",
)

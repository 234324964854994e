"""CANopen (CiA 301): where its parts are."""

from labkit.doors.family import Family

FAMILY = Family(
    network="labkit.families.canopen.network_reading:CanopenFamily",
    bench="labkit.families.canopen.bench.setup:CanopenBench",
    bench_reading="labkit.families.canopen.bench_reading:CanopenBenchReading",
    nodes="labkit.families.canopen.nodes:NODES",
    switches="labkit.families.canopen.switches:CanopenSwitches",
    frames="labkit.families.canopen.frames:CanopenFrames",
    frame_reading="labkit.families.canopen.frame_reading:CanopenFrameReading",
    listening="labkit.families.canopen.listening:CanopenListening",
    left_out={
        "supply": "Each device of a CANopen bus is fed on its own here: the cable has no conductor "
        "for power, and no supply stands on the bus.",
        "plans": "A whole plan has a supply on the trunk, and a CANopen bus here has none.",
    },
)

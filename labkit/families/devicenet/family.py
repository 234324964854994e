"""DeviceNet (IEC 62026-3): where its parts are."""

from labkit.doors.family import Family

FAMILY = Family(
    network="labkit.families.devicenet.network_reading:DeviceNetFamily",
    bench="labkit.families.devicenet.bench.setup:Setup",
    bench_reading="labkit.families.devicenet.bench_reading:DeviceNetBenchReading",
    nodes="labkit.families.devicenet.nodes:NODES",
    switches="labkit.families.devicenet.switches:DeviceNetSwitches",
    supply="labkit.families.devicenet.supply:DeviceNetSupply",
    review="labkit.families.devicenet.review:DeviceNetReview",
    plans="labkit.families.devicenet.whole_plan.plans:DeviceNetPlans",
    frames="labkit.families.devicenet.frames:DeviceNetFrames",
    frame_reading="labkit.families.devicenet.frame_reading:DeviceNetFrameReading",
    listening="labkit.families.devicenet.listening:DeviceNetListening",
    rig="labkit.families.devicenet.rig:DeviceNetRig",
)

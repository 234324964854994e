"""A DeviceNet line of four devices, short and sound: for what a test sets at its devices."""

from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap

NAMES = ("scanner", "clamp", "gate", "lamp")
PLAN = Network(
    125,
    (Segment("thick", 30.0),),
    tuple(Tap(3.0 + 6 * n, Drop(1.0, (Device(name, 0.1, n),))) for n, name in enumerate(NAMES)),
    (Supply(14.0),),
)

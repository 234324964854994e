"""The kind `wiring`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.wiring.check:WiringCheck",
    read="labkit.kinds.wiring.read:WiringReader",
    page="labkit.kinds.wiring.page:WiringPage",
    does="makes up a connector, fits terminators, earths the shield",
)

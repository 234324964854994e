"""The kind `io_map`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.io_map.check:IoMapCheck",
    read="labkit.kinds.io_map.read:IoMapReader",
    page="labkit.kinds.io_map.page:IoMapPage",
    does="lays devices' bytes into a scanner's two areas",
)

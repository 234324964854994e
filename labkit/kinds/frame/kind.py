"""The kind `frame`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.frame.check:FrameCheck",
    read="labkit.kinds.frame.read:FrameReader",
    page="labkit.kinds.frame.page:FramePage",
    does="takes frames apart, or writes them",
)

"""The kind `binary`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="binary_kind.check:BinaryCheck",
    read="binary_kind.read:BinaryReader",
    page="binary_kind.page:BinaryPage",
)

"""The kind `written`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.written.check:WrittenCheck",
    read="labkit.kinds.written.read:WrittenReader",
    page="labkit.kinds.written.page:WrittenPage",
    does="writes a short text; you mark it",
)

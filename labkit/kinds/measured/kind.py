"""The kind `measured`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.measured.check:MeasuredCheck",
    read="labkit.kinds.measured.read:MeasuredReader",
    page="labkit.kinds.measured.page:MeasuredPage",
    does="measures on the real bench",
)

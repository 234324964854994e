"""The kind `quantity`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.quantity.check:QuantityCheck",
    read="labkit.kinds.quantity.read:QuantityReader",
    page="labkit.kinds.quantity.page:QuantityPage",
    does="writes a number and a unit",
)

"""The kind `direct_address`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.direct_address.check:DirectAddressCheck",
    read="labkit.kinds.direct_address.read:DirectAddressReader",
    page="labkit.kinds.direct_address.page:DirectAddressPage",
    does="writes a direct address",
)

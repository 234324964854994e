"""The kind `address_plan`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.address_plan.check:AddressPlanCheck",
    read="labkit.kinds.address_plan.read:AddressPlanReader",
    page="labkit.kinds.address_plan.page:AddressPlanPage",
    does="gives every device a node address",
)

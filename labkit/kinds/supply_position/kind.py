"""The kind `supply_position`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.supply_position.check:SupplyPositionCheck",
    read="labkit.kinds.supply_position.read:SupplyPositionReader",
    page="labkit.kinds.supply_position.page:SupplyPositionPage",
    does="places one supply on the trunk",
)

"""The kind `spot`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.spot.check:SpotCheck",
    read="labkit.kinds.spot.read:SpotReader",
    page="labkit.kinds.spot.page:SpotPage",
    does="points at places in a picture, or in the drawn network",
)

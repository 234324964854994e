"""The kind `pairs`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.pairs.check:PairsCheck",
    read="labkit.kinds.pairs.read:PairsReader",
    page="labkit.kinds.pairs.page:PairsPage",
    does="chooses a partner for each thing",
)

"""The kind `several`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.several.check:SeveralCheck",
    read="labkit.kinds.several.read:SeveralReader",
    page="labkit.kinds.several.page:SeveralPage",
    does="ticks every one that is right; the order is drawn",
)

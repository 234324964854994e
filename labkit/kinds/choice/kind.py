"""The kind `choice`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.choice.check:ChoiceCheck",
    read="labkit.kinds.choice.read:ChoiceReader",
    page="labkit.kinds.choice.page:ChoicePage",
    does="chooses; the order is drawn",
)

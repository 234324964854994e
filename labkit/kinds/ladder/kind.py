"""The kind `ladder`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.ladder.check:LadderCheck",
    read="labkit.kinds.ladder.read:LadderReader",
    page="labkit.kinds.ladder.page:LadderPage",
    does="builds a program of contacts and coils",
)

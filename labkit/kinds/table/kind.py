"""The kind `table`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.table.check:TableCheck",
    read="labkit.kinds.table.read:TableReader",
    page="labkit.kinds.table.page:TablePage",
    does="fills in the open cells of a table",
)

"""The kind `switches`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.switches.check:SwitchesCheck",
    read="labkit.kinds.switches.read:SwitchesReader",
    page="labkit.kinds.switches.page:SwitchesPage",
    does="sets a device's switches, or reads them",
)

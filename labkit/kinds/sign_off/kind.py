"""The kind `sign_off`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.sign_off.check:SignOffCheck",
    read="labkit.kinds.sign_off.read:SignOffReader",
    page="labkit.kinds.sign_off.page:SignOffPage",
    does="says what is ready to be seen; you look at it",
)

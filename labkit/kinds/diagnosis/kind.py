"""The kind `diagnosis`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.diagnosis.check:DiagnosisCheck",
    read="labkit.kinds.diagnosis.read:DiagnosisReader",
    page="labkit.kinds.diagnosis.page:DiagnosisPage",
    does="finds a fault on the virtual bench and repairs it",
)

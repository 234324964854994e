"""The kind `diagnosis`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.diagnosis.check:DiagnosisCheck",
    read="labkit.kinds.diagnosis.read:DiagnosisReader",
    page="labkit.kinds.diagnosis.page:DiagnosisPage",
)

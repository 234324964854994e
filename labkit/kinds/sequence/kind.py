"""The kind `sequence`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.sequence.check:SequenceCheck",
    read="labkit.kinds.sequence.read:SequenceReader",
    page="labkit.kinds.sequence.page:SequencePage",
    does="puts steps into their order",
)

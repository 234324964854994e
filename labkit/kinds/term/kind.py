"""The kind `term`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.term.check:TermCheck",
    read="labkit.kinds.term.read:TermReader",
    page="labkit.kinds.term.page:TermPage",
    does="writes a word, a name or a code",
)

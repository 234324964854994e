"""The kind `review`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.review.check:ReviewCheck",
    read="labkit.kinds.review.read:ReviewReader",
    page="labkit.kinds.review.page:ReviewPage",
    does="reviews a proposed drawing: marks what is wrong, and says why",
)

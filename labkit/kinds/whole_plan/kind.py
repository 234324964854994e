"""The kind `whole_plan`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.whole_plan.check:WholePlanCheck",
    read="labkit.kinds.whole_plan.read:WholePlanReader",
    page="labkit.kinds.whole_plan.page:WholePlanPage",
    does="plans a whole small network, builds it on the bench and switches it on",
)

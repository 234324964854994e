"""The kind `test_plan`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.test_plan.check:TestPlanCheck",
    read="labkit.kinds.test_plan.read:TestPlanReader",
    page="labkit.kinds.test_plan.page:TestPlanPage",
    does="plans a test, step by step, that finds every crossed pair of outputs or inputs",
)

"""The kind `plan_board`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.plan_board.check:PlanBoardCheck",
    read="labkit.kinds.plan_board.read:PlanBoardReader",
    page="labkit.kinds.plan_board.page:PlanBoardPage",
    does="puts cards into slots, names them, gives addresses",
)

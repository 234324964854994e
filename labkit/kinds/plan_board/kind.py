"""The kind `plan_board`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.plan_board.check:PlanBoardCheck",
    read="labkit.kinds.plan_board.read:PlanBoardReader",
    widget="labkit.station.widgets.plan_board:PlanBoardExercise",
)

"""The kind `choose_modules`: where its parts are."""

from labkit.doors.kind import Kind

KIND = Kind(
    check="labkit.kinds.choose_modules.check:ChooseModulesCheck",
    read="labkit.kinds.choose_modules.read:ChooseModulesReader",
    page="labkit.kinds.choose_modules.page:ChooseModulesPage",
    does="chooses modules for a list of signals, places them, adds up what they draw",
)

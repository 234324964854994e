"""The page of the kind `choose_modules`: the list, the catalogue, and a chassis to fill."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.doors.page import ExercisePage
from labkit.kinds.choose_modules.check import ChooseModulesCheck
from labkit.kinds.choose_modules.data import INVENTED, ChooseModulesAsk
from labkit.kinds.choose_modules.plan import points_of
from labkit.kinds.choose_modules.tables import tables
from labkit.language.markdown import to_html


class ChooseModulesPage(ExercisePage):
    """A chassis to be filled for a list of signals."""

    script: ClassVar[str] = "choose_modules.js"
    ask: ChooseModulesAsk

    def view(self) -> dict[str, Any]:
        """What is given, in words; nothing that adds it up."""
        return {
            "caution": to_html(ChooseModulesCheck().caution(self.ask)),
            "invented": INVENTED,
            "given": tables(self.ask),
            "choices": {
                each["id"]: f"{each['type']}: {points_of(each, self.ask)}"
                for each in self.ask["modules"]
            },
        }

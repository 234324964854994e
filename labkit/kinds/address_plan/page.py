"""The page of the kind `address_plan`: an address for each device, and a map of them all."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.doors.installed import nodes_for
from labkit.doors.page import ExercisePage
from labkit.kinds.common.of_family import family_of


class AddressPlanPage(ExercisePage):
    """A node address for each device."""

    script: ClassVar[str] = "address_plan.js"

    def view(self) -> dict[str, Any]:
        """The lowest address there is."""
        return {"lowest": nodes_for(family_of(self.ask)).addresses[0]}

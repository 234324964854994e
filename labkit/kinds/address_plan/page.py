"""The page of the kind `address_plan`: an address for each device, and a map of them all."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.doors.page import ExercisePage
from labkit.kinds.address_plan.allowed_addresses import allowed_in


class AddressPlanPage(ExercisePage):
    """A node address for each device."""

    script: ClassVar[str] = "address_plan.js"

    def view(self) -> dict[str, Any]:
        """The lowest address there is."""
        return {"lowest": allowed_in(self.ask)[0]}

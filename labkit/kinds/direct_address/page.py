"""The page of the kind `direct_address`: the map, drawn, and a line for an address."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.doors.page import ExercisePage
from labkit.kinds.direct_address.check import FORM


class DirectAddressPage(ExercisePage):
    """A direct address."""

    script: ClassVar[str] = "direct_address.js"

    def view(self) -> dict[str, Any]:
        """The form of an answer, to show in the empty line."""
        return {"form": FORM}

"""The page of the kind `direct_address`: the map, drawn, and a line for an address."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.lab.exercise_page import ExercisePage
from labkit.lab.kinds.direct_address import FORM


class DirectAddressPage(ExercisePage):
    """A direct address."""

    scripts: ClassVar[tuple[str, ...]] = ("byte_grid", "direct_address")

    def view(self) -> dict[str, Any]:
        """The form of an answer, to show in the empty line."""
        return {"form": FORM}

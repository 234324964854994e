"""How long a class is kept."""

from __future__ import annotations

from datetime import date

from labkit.classroom.class_folder import ClassFolder
from labkit.exchange.clock import CLOCK


def retention_remark(folder: ClassFolder) -> str:
    """A sentence when the time is over until which the class was to be kept; "" before."""
    until = folder.fields.keep_until
    today = CLOCK.moment().astimezone(folder.fields.zone).date()
    if until is None or today <= date.fromisoformat(until):
        return ""
    return (
        f"This class was to be kept until {until} ('keep_until' in class.yaml), and that is over: "
        "delete the class folder, or erase its people ('labkit records CLASS --erase ID')."
    )

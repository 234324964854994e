"""Opening times, and where they cannot be kept: who has a workbook opens it when they like."""

from __future__ import annotations

from labkit.classroom.class_folder import ClassFolder
from labkit.exchange.clock import CLOCK
from labkit.exchange.formats import DRILLS_ENDING, TASK_ENDING


def remarks_on_opening(folder: ClassFolder) -> list[str]:
    """A sentence for each lab of a class whose files must not be given out yet."""
    fields, now = folder.fields, CLOCK.now()
    return [
        f"'{lab}' opens {fields.spoken(opens)}. No laptop keeps a workbook closed until then: give "
        f"its files ({_files(lab, fields.practice(lab))}) out when it opens, not with the folder "
        "before."
        for lab in fields.labs
        if (opens := fields.opens_of(lab)) and opens > now and not fields.in_room(lab)
    ]


def _files(lab: str, practice: bool) -> str:
    drills = [f"{lab}{DRILLS_ENDING}"] if practice else []
    return ", ".join([f"{lab}.ipynb", f"{lab}{TASK_ENDING}", *drills])

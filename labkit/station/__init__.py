"""What runs at a trainee's laptop: the notebook that hosts the exercises' pages."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from labkit.station.workbook import Workbook


def open_workbook(task_file: str) -> Workbook:
    """Open the workbook whose task file lies beside the notebook; the notebook calls this."""
    # The widgets are loaded only where a notebook shows them, not for packing or reading hand-ins.
    from labkit.errors import OF_THE_SYSTEM, sentences
    from labkit.station.errors import StationError
    from labkit.station.workbook import Workbook

    try:
        return Workbook.open(task_file)
    except OF_THE_SYSTEM as error:
        raise StationError(" ".join(sentences(error))) from None

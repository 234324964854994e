"""What runs at a trainee's laptop: the notebook that hosts the exercises' pages."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from labkit.station.workbook import Workbook

_OPEN: dict[Path, Workbook] = {}
"""What this engine has open: the windows in which a workbook's cells were run share one."""


def open_workbook(task_file: str) -> Workbook:
    """Open the workbook whose task file lies beside the notebook; the notebook calls this."""
    # The widgets are loaded only where a notebook shows them, not for packing or reading hand-ins.
    from labkit.errors import OF_THE_SYSTEM, sentences
    from labkit.station.errors import StationError
    from labkit.station.workbook import Workbook

    path = Path(task_file).resolve()
    try:
        if path in _OPEN:
            _OPEN[path].open_again()
        else:
            _OPEN[path] = Workbook.open(task_file)
        return _OPEN[path]
    except OF_THE_SYSTEM as error:
        raise StationError(" ".join(sentences(error))) from None

"""The score sheet: one row a trainee and lab, as CSV and XLSX through pandas."""

from __future__ import annotations

import io
import re
import zipfile
from pathlib import Path
from typing import Any, Final

import pandas as pd

from labkit.classroom.scoring import Result, Scoring

# The last four are the full-width forms, which some spreadsheets take for the plain ones.
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")
_MOMENT: Final = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*")


def score_table(scoring: Scoring) -> pd.DataFrame:
    """The score sheet; an exercise's column is blank in the rows of another lab."""
    several_labs = len(scoring.labs) > 1
    rows = pd.DataFrame(
        [_row(result, several_labs, scoring.results.retakes) for result in scoring.results]
    )
    marks = [
        _column(lab.id, number, exercise.id, len(scoring.labs) > 1)
        for lab in scoring.labs.values()
        for number, exercise in enumerate(lab.exercises, 1)
    ]
    first = [name for name in rows.columns if name not in marks and name != "slips"]
    return rows.reindex(columns=[*first, *marks, "slips"])


def write_sheets(scoring: Scoring, folder: Path) -> tuple[Path, Path]:
    """Write `score-sheet.csv` (UTF-8 with BOM, as spreadsheets like it) and `score-sheet.xlsx`.

    The same scores give the same bytes.
    """
    folder.mkdir(parents=True, exist_ok=True)
    table = score_table(scoring)
    csv, xlsx = folder / "score-sheet.csv", folder / "score-sheet.xlsx"
    table.to_csv(csv, index=False, encoding="utf-8-sig")
    unsettled = io.BytesIO()
    table.to_excel(unsettled, index=False, sheet_name="Scores", freeze_panes=(1, 2))
    xlsx.write_bytes(_settled(unsettled.getvalue()))
    return csv, xlsx


def _row(result: Result, several_labs: bool, retakes: bool) -> dict[str, Any]:
    row: dict[str, Any] = {
        "id": harmless(result.dealt.trainee),
        "name": harmless(result.dealt.name),
        "lab": result.dealt.lab,
        **({"attempt": result.dealt.attempt} if retakes else {}),
        "state": _state(result),
        "marks": result.earned if result.counts else None,
        "out of": result.possible,
        "percent": round(result.percent, 1) if result.counts else None,
        "handed in": result.hand_in.made_at if result.hand_in else None,
        "received": result.hand_in.received_at if result.hand_in else None,
    }
    for mark in result.marks:
        row[_column(result.dealt.lab, mark.number, mark.exercise, several_labs)] = (
            None if mark.voided or mark.awaits else mark.earned
        )
    row["slips"] = "; ".join(f"{mark.exercise}: {mark.slip}" for mark in result.marks if mark.slip)
    return row


def _column(lab: str, number: int, exercise: str, several_labs: bool) -> str:
    return f"{lab}: {number} {exercise}" if several_labs else f"{number} {exercise}"


def _settled(data: bytes) -> bytes:
    """The same workbook file without the moment of writing in it: same scores, same bytes."""
    settled = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(data)) as given,
        zipfile.ZipFile(settled, "w", zipfile.ZIP_DEFLATED) as written,
    ):
        for name in given.namelist():
            part = given.read(name)
            if name == "docProps/core.xml":
                part = _MOMENT.sub(rb"\g<1>1980-01-01T00:00:00Z", part)
            info = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
            written.writestr(info, part, zipfile.ZIP_DEFLATED)
    return settled.getvalue()


def _state(result: Result) -> str:
    if not result.counts:
        return "not handed in"
    if result.awaits:
        return "late, to be marked" if result.late else "to be marked"
    return "late" if result.late else "scored"


def harmless(text: str) -> str:
    """Text that a spreadsheet would take for a formula gets an apostrophe in front."""
    return f"'{text}" if text[:1] in _FORMULA else text

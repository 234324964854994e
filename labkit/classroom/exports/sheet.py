"""The score sheet: one row a trainee and lab, as CSV and XLSX."""

from __future__ import annotations

import csv
import io
import re
import unicodedata
import zipfile
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from labkit.classroom.marks.results import Scoring
from labkit.classroom.private_place import Place
from labkit.classroom.result import Result
from labkit.classroom.share import spoken_percent

_TOGETHER: Final = "together with"
_FORMULA: Final = frozenset("=+-@")
_MOMENT: Final = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*")


def score_rows(scoring: Scoring) -> list[dict[str, Any]]:
    """The score sheet: every row has all columns, in their order; None where nothing is to stand.

    An exercise's column is blank in the rows of another lab. `records` names the state of the
    records: `labkit records CLASS --verify --printed CODE`.
    """
    several_labs = len(scoring.labs) > 1
    rows = [
        _row(result, several_labs, scoring.results.retakes, scoring.results.pass_mark)
        for result in scoring.results
    ]
    marks = [
        _column(lab.id, number, exercise.id, several_labs)
        for lab in scoring.labs.values()
        for number, exercise in enumerate(lab.exercises, 1)
    ]
    last = {*marks, "slips"}
    if all(row[_TOGETHER] is None for row in rows):
        last.add(_TOGETHER)
    first = dict.fromkeys(name for row in rows for name in row if name not in last)
    columns = [*first, *marks, "slips"]
    return [{**{name: row.get(name) for name in columns}, "records": scoring.code} for row in rows]


def write_sheets(scoring: Scoring, folder: Path) -> tuple[Path, Path]:
    """Write `score-sheet.csv` (UTF-8 with BOM, as spreadsheets like it) and `score-sheet.xlsx`.

    The same scores give the same bytes.
    """
    rows, place = score_rows(scoring), Place(folder)
    table = [list(rows[0]), *(list(row.values()) for row in rows)] if rows else []
    plain = place.write(_as_csv(table).encode("utf-8-sig"), "score-sheet.csv")
    return plain, place.write(_as_xlsx(table), "score-sheet.xlsx")


def written_sheet(folder: Path) -> tuple[datetime, str] | None:
    """When the score sheet was written, and the state of the records that it is of.

    None where there is none, or somebody made another table of it.
    """
    file = folder / "score-sheet.csv"
    try:
        with file.open(encoding="utf-8-sig", newline="") as text:
            first = next(csv.DictReader(text), {})
        return datetime.fromtimestamp(file.stat().st_mtime, UTC), first.get("records") or ""
    except (OSError, ValueError, csv.Error):
        return None


def _row(
    result: Result, several_labs: bool, retakes: bool, pass_mark: float | None
) -> dict[str, Any]:
    row: dict[str, Any] = {
        "id": result.dealt.trainee,
        "name": result.dealt.name,
        "lab": result.dealt.lab,
        **({"attempt": result.dealt.attempt} if retakes else {}),
        "state": _state(result),
        _TOGETHER: " and ".join(result.together.values()) or None,
        **_figures(result, pass_mark),
        "handed in": result.hand_in.made_at if result.hand_in else None,
        "received": result.hand_in.received_at if result.hand_in else None,
    }
    for mark in result.marks:
        row[_column(result.dealt.lab, mark.number, mark.exercise, several_labs)] = (
            None if mark.voided or mark.awaits else mark.earned
        )
    row["slips"] = "; ".join(f"{mark.exercise}: {mark.slip}" for mark in result.marks if mark.slip)
    return {
        column: harmless(cell) if isinstance(cell, str) else cell for column, cell in row.items()
    }


def _figures(result: Result, pass_mark: float | None) -> dict[str, float | None]:
    """The marks of `out of` that are earned and that wait, and the % of those that do not wait."""
    share, percent = result.share, result.percent
    given = result.counts and percent is not None
    return {
        "marks": share.earned if given else None,
        "out of": result.possible,
        "waiting": share.waiting if result.counts else None,
        "percent": float(spoken_percent(percent, pass_mark)) if given else None,
    }


def _column(lab: str, number: int, exercise: str, several_labs: bool) -> str:
    return f"{lab}: {number} {exercise}" if several_labs else f"{number} {exercise}"


def _as_csv(table: Sequence[Sequence[Any]]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(table)
    return text.getvalue()


def _as_xlsx(table: Sequence[Sequence[Any]]) -> bytes:
    # The marks are on the screen before this is loaded.
    from openpyxl import Workbook
    from openpyxl.styles import Font

    book = Workbook()
    sheet = book.active
    sheet.title, sheet.freeze_panes = "Scores", "C2"
    for row in table:
        sheet.append(row)
    for cell in sheet[1]:
        cell.font = Font(bold=True)
    unsettled = io.BytesIO()
    book.save(unsettled)
    return _settled(unsettled.getvalue())


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
    """Text that a spreadsheet would take for a formula gets an apostrophe in front.

    Programs look behind blanks and letters that do not show, and some take full-width signs for the
    plain ones.
    """
    shown = next((letter for letter in text if unicodedata.category(letter)[0] not in "CZ"), "")
    sign = unicodedata.normalize("NFKC", shown)[:1]
    return f"'{text}" if sign in _FORMULA or text[:1] in ("\t", "\r") else text

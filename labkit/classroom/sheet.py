"""The score sheet: one row a trainee and lab, as CSV and XLSX through pandas."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd

from labkit.classroom.scoring import Result, Scoring


def score_table(scoring: Scoring) -> pd.DataFrame:
    """The score sheet; an exercise's column is blank in the rows of another lab."""
    return pd.DataFrame([_row(result, len(scoring.labs) > 1) for result in scoring.results])


def write_sheets(scoring: Scoring, folder: Path) -> tuple[Path, Path]:
    """Write `score-sheet.csv` (UTF-8 with BOM, as spreadsheets like it) and `score-sheet.xlsx`."""
    table = score_table(scoring)
    csv, xlsx = folder / "score-sheet.csv", folder / "score-sheet.xlsx"
    table.to_csv(csv, index=False, encoding="utf-8-sig")
    table.to_excel(xlsx, index=False, sheet_name="Scores", freeze_panes=(1, 2))
    return csv, xlsx


def _row(result: Result, several_labs: bool) -> dict[str, Any]:
    row: dict[str, Any] = {
        "id": _harmless(result.dealt.trainee),
        "name": _harmless(result.dealt.name),
        "lab": result.dealt.lab,
        "state": _state(result),
        "marks": result.earned if result.counts else None,
        "out of": result.possible,
        "percent": round(result.percent, 1) if result.counts else None,
        "handed in": result.hand_in.made_at if result.hand_in else None,
    }
    for mark in result.marks:
        column = f"{mark.number} {mark.exercise}"
        row[f"{result.dealt.lab}: {column}" if several_labs else column] = mark.earned
    row["slips"] = "; ".join(
        f"{mark.exercise}: {mark.verdict.slip}"
        for mark in result.marks
        if mark.verdict.slip and not mark.verdict.right
    )
    return row


def _state(result: Result) -> str:
    if not result.counts:
        return "not handed in"
    return "late" if result.late else "scored"


def _harmless(text: str) -> str:
    """Text that a spreadsheet would take for a formula gets an apostrophe in front."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t") else text

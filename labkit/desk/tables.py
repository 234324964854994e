"""What the instructor's notebooks show, as tables: the class, who has handed in, the exercises."""

from __future__ import annotations

from typing import Any

import pandas as pd

from labkit.classroom.analysis.whole import LabAnalysis
from labkit.classroom.class_file import ClassFields
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import trainee_folder
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.exports.sheet import score_rows
from labkit.classroom.marks.results import Scoring
from labkit.classroom.result import Result


def class_table(folder: ClassFolder) -> pd.DataFrame:
    """A row a trainee: id, name, how many workbooks were dealt, the folder to give out."""
    dealt = read_deal(folder).dealt
    rows = []
    for trainee in folder.trainees:
        theirs = dealt.of_trainee(trainee.id)
        given = (item for item in theirs if not folder.fields.in_room(item.lab))
        homes = dict.fromkeys(str(trainee_folder(folder, item.origin[0])) for item in given)
        rows.append(
            {
                "id": trainee.id,
                "name": trainee.name,
                "workbooks": len(theirs),
                "folder to give out": ", ".join(homes),
            }
        )
    return pd.DataFrame(rows)


def lab_table(fields: ClassFields) -> pd.DataFrame:
    """A row a lab: by which rules it counts."""
    rows = [
        {
            "lab": lab,
            "mode": fields.mode_of(lab),
            "held": "in the room" if fields.in_room(lab) else "on laptops",
            "weight": f"{fields.weight(lab):g}",
            "opens (UTC)": fields.opens_of(lab) or "any time",
            "deadline (UTC)": fields.deadline_of(lab) or "none",
        }
        for lab in fields.labs
    ]
    return pd.DataFrame(rows)


def hand_in_table(scoring: Scoring) -> pd.DataFrame:
    """A row a dealt workbook: whether its hand-in is there, late or missing; the missing first."""
    rows = [
        {
            "id": result.dealt.trainee,
            "name": result.dealt.name,
            "lab": result.dealt.lab,
            "state": ", ".join(filter(None, (_state(result), result.with_whom))),
            "handed in (UTC)": _when(result.hand_in.made_at if result.hand_in else None),
            "received (UTC)": _when(result.hand_in.received_at if result.hand_in else None),
        }
        for result in scoring.results
    ]
    rows.sort(key=lambda row: not str(row["state"]).startswith("missing"))
    return pd.DataFrame(rows)


def notice_table(scoring: Scoring) -> pd.DataFrame:
    """A row a file that needs a look: which, what, why."""
    rows = [(notice.file, notice.reason, notice.sentence) for notice in scoring.notices]
    return pd.DataFrame(rows, columns=["file", "what", "why"])


def score_table(scoring: Scoring) -> pd.DataFrame:
    """The score sheet: a row a trainee and lab."""
    return pd.DataFrame(score_rows(scoring))


def exercise_table(lab: LabAnalysis) -> pd.DataFrame:
    """A row an exercise: % of marks earned with its interval, correlation with the rest, blanks,
    minutes, tries and hints. What cannot be told is empty."""
    rows: list[dict[str, Any]] = []
    for item, effort in zip(lab.items, lab.effort, strict=True):
        low, high = item.difficulty_range.low, item.difficulty_range.high
        rows.append(
            {
                "exercise": f"{item.number}. {item.title}",
                "marks earned, %": round(100 * item.difficulty),
                "95 % interval": f"{100 * low:.0f} to {100 * high:.0f}",
                "with the rest": item.discrimination,
                "blank": item.blank,
                "minutes, median": effort.median_minutes,
                "answers": effort.tries,
                "took hints": effort.took_hints,
            }
        )
    return pd.DataFrame(rows).round({"with the rest": 2, "minutes, median": 1})


def _state(result: Result) -> str:
    if not result.counts:
        return "missing"
    return "late" if result.late else "in"


def _when(moment: str | None) -> str:
    return moment.replace("T", " ").replace("Z", "") if moment else ""

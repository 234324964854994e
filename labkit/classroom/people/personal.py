"""What is held of a person: all of it, on request."""

from __future__ import annotations

import base64
import json
from typing import Any

from sqlalchemy import select

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.people.belongings import (
    Belongings,
    belongings_of,
    nameless_receipts,
    of_person,
)
from labkit.classroom.people.room_log import room_entries_of
from labkit.classroom.people.traces import Found
from labkit.classroom.records.handed_on import handed_on_of
from labkit.classroom.records.schema import PERSONAL, receipts
from labkit.classroom.records.store import Records
from labkit.exchange.clock import CLOCK


def held_of(folder: ClassFolder, trainee: str) -> dict[str, Any]:
    """Everything that the class folder holds of a person, as JSON. Raises `ClassError`."""
    records = Records.of(folder)
    held = belongings_of(folder, records, trainee)
    deal = read_deal(folder)
    found: dict[str, Any] = {
        "format": "labkit personal data",
        "class": folder.fields.id,
        "trainee": trainee,
        "made_at": CLOCK.now(),
        "keep_until": folder.fields.keep_until,
        "roster": [
            {"id": person.id, "name": person.name, "bench": person.bench, "seat": person.seat}
            for person in folder.trainees
            if person.id == trainee
        ],
        "deal": [
            {
                "lab": item.lab,
                "name": item.name,
                "workbook": item.workbook,
                "attempt": item.attempt,
                "dealt_at": item.dealt_at,
                "variant": item.variant,
                "difficulty": item.difficulty,
            }
            for item in deal.dealt.of_trainee(trainee)
        ],
        "records": {table.name: _rows_of(records, table, held) for table in PERSONAL},
    }
    found["files"] = [
        {"file": str(item.file.relative_to(folder.path)), **_content(item)} for item in held.files
    ]
    found["room"] = room_entries_of(folder, held.ids)
    found["handed_on"] = handed_on_of(records)
    return found


def _rows_of(records: Records, table: Any, held: Belongings) -> list[dict[str, Any]]:
    rows = [dict(row) for row in records.rows(select(table).where(of_person(table, held)))]
    if table is receipts:
        rows += [row for row in nameless_receipts(records, held) if row not in rows]
    return rows


def _content(found: Found) -> dict[str, Any]:
    data = found.data() or b""
    if found.file.suffix == ".json":
        try:
            return {"json": json.loads(data)}
        except (ValueError, RecursionError):
            pass
    try:
        return {"text": data.decode("utf-8")}
    except UnicodeDecodeError:
        return {"base64": base64.b64encode(data).decode()}

"""Who works together: what the room's log says of it, kept in the records, and who shares what.

The trainer lets one trainee (the guest) work in the workbook of another (the host). As long as they
are together, the guest's result of that lab is the host's, whatever lies in the guest's own
workbook; once they are parted each has their own. Hands are known by the number of their own
workbook: no journal holds the name or the id of another.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final, Self

from sqlalchemy import Connection, select

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealt import Deal, Roll
from labkit.classroom.records.schema import together
from labkit.classroom.records.store import Records
from labkit.classroom.room_entries import PARTED, TOGETHER, room_entries

ERASED: Final = "(erased)"
"""In place of a name that is not kept any more."""


def note_pairs(folder: ClassFolder, records: Records, deal: Deal) -> None:
    """Add what the room's log says of pairs and the records do not hold yet."""
    said = {entry["entry"]: entry for entry in _said(folder)}
    if not said:
        return
    known = {row["entry"] for row in records.rows(select(together.c.entry))}
    missing = [entry for number, entry in said.items() if number not in known]
    # Of somebody who was erased nothing is added any more.
    records.add(together, [one for one in missing if _is_dealt(deal, one)])


def _is_dealt(deal: Deal, entry: Mapping[str, Any]) -> bool:
    return all(deal.dealt.of_workbook(entry[name]) for name in ("workbook", "host"))


def _said(folder: ClassFolder) -> Iterator[dict[str, Any]]:
    for entry in room_entries(folder.room_log):
        if entry.get("act") in (TOGETHER, PARTED):
            yield {
                "entry": str(entry.get("entry", "")),
                "workbook": str(entry.get("workbook", "")),
                "host": str(entry.get("host_workbook", "")),
                "shared": entry["act"] == TOGETHER,
                "hand": bool(entry.get("hand")),
                "by": str(entry.get("by", "")),
                "since": str(entry.get("at", "")),
            }


@dataclass(frozen=True, slots=True)
class Pairs:
    """Who shares a workbook, by the numbers of workbooks.

    `host_of` has, for each guest's own workbook, the one that they work in. `guests_of` has the
    guests of a host's: those who are, and those who were and whose hand is in its answers.
    """

    host_of: Mapping[str, str]
    guests_of: Mapping[str, tuple[str, ...]]

    @classmethod
    def of(cls, connection: Connection) -> Self:
        """The pairs as the records have them now."""
        rows = connection.execute(select(together).order_by(together.c.id)).mappings().all()
        last = {row["workbook"]: row for row in rows}
        host_of = {workbook: row["host"] for workbook, row in last.items() if row["shared"]}
        guests: dict[str, dict[str, None]] = {}
        for row in rows:
            if row["hand"] or host_of.get(row["workbook"]) == row["host"]:
                guests.setdefault(row["host"], {})[row["workbook"]] = None
        return cls(host_of, {host: tuple(these) for host, these in guests.items()})

    def works_in(self, workbook: str) -> str:
        """The workbook that the owner of one works in."""
        return self.host_of.get(workbook, workbook)

    def others(self, workbook: str) -> tuple[str, ...]:
        """The workbooks of those with whom the owner of one works, or worked in it."""
        host = self.works_in(workbook)
        hands = (host, *self.guests_of.get(host, ()))
        return tuple(hand for hand in hands if hand != workbook)

    def named(self, workbook: str, dealt: Roll) -> dict[str, str]:
        """The names of `others`, by the number of their own workbook."""
        found = {other: dealt.of_workbook(other) for other in self.others(workbook)}
        return {other: item.name if item else ERASED for other, item in found.items()}

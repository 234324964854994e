"""What was written outside of the class folder, and where: an erasure cannot follow it there."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final, Literal

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.records.schema import handed_on
from labkit.classroom.records.store import Records
from labkit.exchange.clock import CLOCK

What = Literal["export", "print", "certificates", "backup", "second disk"]
_THERE: Final = {
    "export": "the pages of {id} in 'transcripts' and 'certificates', 'all-certificates', the "
    "folder 'oneroster' and 'statements.jsonl'",
    "certificates": "the page of {id} in 'certificates', and 'all-certificates'",
    "backup": "the whole file, and make a backup anew",
    "second disk": "the whole folder; the next 'labkit host --second' copies the class anew",
    "print": "the handout of {id} in 'handouts', 'all-handouts', 'instructors-copy', 'cards' and "
    "'fault-cards'",
}


def remember(folder: ClassFolder, what: What, to: Path) -> None:
    """Keep in the records that something that names people was written to a folder elsewhere."""
    place = to.resolve()
    if not place.is_relative_to(folder.path.resolve()):
        entry = {"what": what, "folder": str(place), "written_at": CLOCK.now()}
        Records.of(folder).add(handed_on, [entry])


def handed_on_of(records: Records) -> list[dict[str, Any]]:
    """The last entry of each kind and folder."""
    return [dict(row) for row in records.latest(handed_on, "what", "folder")]


def to_delete(folder: ClassFolder, records: Records, trainee: str) -> Iterator[str]:
    """A sentence for each folder elsewhere: what is to be deleted there by hand."""
    for row in handed_on_of(records):
        yield (
            f"{row['folder']}: written {folder.fields.spoken(row['written_at'])}. Delete there "
            f"{_THERE[row['what']].format(id=trainee)}."
        )

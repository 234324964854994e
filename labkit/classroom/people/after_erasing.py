"""What is left for the instructor to do when a person was erased."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from sqlalchemy import false, or_, select

from labkit.classroom.class_folder import RECORDS_FILE, ClassFolder
from labkit.classroom.people.belongings import Belongings, roster_of
from labkit.classroom.people.traces import Found, Spellings, everything_in
from labkit.classroom.records.handed_on import to_delete
from labkit.classroom.records.schema import (
    acts,
    certificates,
    editions,
    ended,
    erasures,
    manual,
    marks,
    receipts,
    together,
    voids,
)
from labkit.classroom.records.store import Records

_NAMED: Final = 20
"""Files that are told by name at most."""
# The columns of the records in which people write what they like, of entries that stay.
_WORDS: Final = (
    (receipts, ("file", "sentence")),
    (marks, ("answer", "message")),
    (manual, ("by", "note")),
    (editions, ("reason", "by")),
    (voids, ("reason", "by")),
    (together, ("by",)),
    (acts, ("by",)),
    (erasures, ("reason",)),
    (certificates, ("by",)),
    (ended, ("reason", "by")),
)


def left_to_do(
    folder: ClassFolder, records: Records, trainee: str, held: Belongings
) -> Iterator[str]:
    """Sentences for the instructor: what else names the person, and what to run again."""
    roster = ""
    if any(person.id == trainee for person in roster_of(folder)):
        roster = folder.roster_file.name
        yield (
            f"Take their line out of {roster} now: it is your own file, and dealing would give "
            "them a workbook again."
        )
    yield (
        "Run 'labkit score' once more, and 'labkit print', 'labkit certificates' and 'labkit "
        "export' where you used them: what they had written of the whole class into the class "
        "folder was deleted."
    )
    yield from to_delete(folder, records, trainee)
    named = [
        str(found.file.relative_to(folder.path))
        for found in everything_in(folder.path)
        if not found.name.startswith(RECORDS_FILE) and found.name != roster
        if _still_named(found, held.spellings)
    ]
    if named:
        more = f" and {len(named) - _NAMED} more" if len(named) > _NAMED else ""
        yield (
            "These files in the class folder were not written by labkit, or belong to somebody "
            f"else, and still name them: {', '.join(named[:_NAMED])}{more}. Look at them yourself."
        )
    yield from _words_left(records, held.naming.names)
    yield (
        "What was copied elsewhere (sticks, mail, backups, the trainee's own laptop) and exports "
        "of older versions of labkit are yours to delete."
    )


def _still_named(found: Found, spellings: Spellings) -> bool:
    if spellings.name(found.file.relative_to(found.top)):
        return True
    return spellings.inside(found.data() or b"")


def _words_left(records: Records, names: Iterable[str]) -> Iterator[str]:
    """Entries that stay, and in which somebody wrote the person's name."""
    for table, columns in _WORDS:
        said = [table.c[column].contains(n, autoescape=True) for column in columns for n in names]
        count = len(records.rows(select(table.c.id).where(or_(false(), *said))))
        if count:
            yield (
                f"{count} entr{'y' if count == 1 else 'ies'} of the records ({table.name}) name "
                "them in words that somebody wrote; entries are never changed."
            )

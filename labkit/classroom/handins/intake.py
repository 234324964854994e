"""Files that came in: which of them are new, and what the records say of the others.

The file's bytes decide, not its name: what was received once is not received again, from whatever
folder or stick, in whatever order, as often as one likes.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, select

from labkit.classroom.handins.choosing import Notice
from labkit.classroom.handins.outcome import Done, Task, receipt_row
from labkit.classroom.handins.receiving import LINK, Examined, RefusedError, read_bytes, shown
from labkit.classroom.on_disk import OnDisk
from labkit.classroom.records.schema import journals, marks, receipts
from labkit.classroom.records.store import Records
from labkit.classroom.unlinked import is_link
from labkit.exchange.clock import CLOCK
from labkit.exchange.formats import HAND_IN_ENDING

BUNDLE_FILES: Final = 32
BUNDLE_BYTES: Final = 4_000_000
_LINKS_NAMED: Final = 20

Row = Mapping[str, Any]


@dataclass(slots=True)
class Bundle:
    """Some files on their way: those to be worked on, and receipts that need no work.

    `received` are the digests of those that came in before, under whatever name; `received_at` is
    when the others did, once they are kept.
    """

    size: int = 0
    tasks: list[Task] = field(default_factory=list)
    refused: list[Examined] = field(default_factory=list)
    copies: list[Row] = field(default_factory=list)
    received: set[str] = field(default_factory=set)
    received_at: str = ""


class Files(Iterable[Path]):
    """Files that are not hidden, in an order that does not depend on the disk.

    Their names are not held in memory, however many there are.
    """

    def __init__(self, found: Iterable[tuple[str, str]]) -> None:
        """`found` are names of files, each with the folder or file that was asked for."""
        self._names = OnDisk("CREATE TABLE files (base BLOB, name BLOB, top BLOB)")
        self._names.add(
            "INSERT INTO files VALUES (?, ?, ?)",
            (
                (os.fsencode(os.path.basename(name)), os.fsencode(name), os.fsencode(top))
                for name, top in found
                if not os.path.basename(name).startswith(".")
            ),
        )
        self._length = self._names.count("SELECT count(*) FROM files")
        self.unread: list[Notice] = []
        """Folders that could not be looked into, and links."""

    def __len__(self) -> int:
        return self._length

    def __iter__(self) -> Iterator[Path]:
        return (file for file, _ in self.below_tops())

    def below_tops(self) -> Iterator[tuple[Path, Path]]:
        """Each file, and the folder or file that was asked for and led to it."""
        for name, top in self._names.rows("SELECT name, top FROM files ORDER BY base, name"):
            yield Path(os.fsdecode(name)), Path(os.fsdecode(top))


def files_in(*places: Path) -> Files:
    """Every file below some folders, by name; a file itself stands for itself.

    No link is followed, unless a folder that was asked for is one itself.
    """
    unread: list[Notice] = []
    links: list[str] = []
    files = Files(
        (name, str(place)) for place in places for name in _below(str(place), unread, links)
    )
    files.unread = [*unread, *_named(links)]
    return files


def _below(place: str, unread: list[Notice], links: list[str]) -> Iterator[str]:
    if not os.path.isdir(place):
        # Whoever writes STICK/* has not named what is a link there.
        if os.path.islink(place):
            links.append(place)
        elif os.path.exists(place):
            yield place
        return
    try:
        with os.scandir(place) as entries:
            for entry in entries:
                if _is_link(entry):
                    links.append(entry.path)
                elif entry.is_dir(follow_symlinks=False):
                    yield from _below(entry.path, unread, links)
                else:
                    yield entry.path
    except OSError as error:
        sentence = f"This folder cannot be looked into ({error.strerror}): nothing in it was read."
        unread.append(Notice(shown(Path(place)), "not read", sentence))


def _is_link(entry: os.DirEntry[str]) -> bool:
    try:
        return is_link(entry.stat(follow_symlinks=False))
    except OSError:
        # One that cannot be looked at must not hide the others.
        return entry.is_symlink()


def _named(links: Iterable[str]) -> list[Notice]:
    """A notice for each link that is not hidden, for so many that a person can look at them."""
    names = sorted(shown(Path(link)) for link in links)
    names = [name for name in names if not name.startswith(".")]
    notices = [Notice(name, "not read", LINK) for name in names[:_LINKS_NAMED]]
    if len(names) > _LINKS_NAMED:
        notices.append(Notice(f"{len(names) - _LINKS_NAMED} more", "not read", LINK))
    return notices


def bundles(files: Files) -> Iterator[Bundle]:
    """The files' bytes, a bundle at a time: never more of them than a bundle holds."""
    bundle, amount = Bundle(), 0
    for file, top in files.below_tops():
        name = shown(file)
        bundle.size += 1
        try:
            task = Task(name, read_bytes(file, top))
        except RefusedError as refused:
            unread = sha256(f"unread {name}".encode()).hexdigest()
            bundle.refused.append(Examined(name, unread, refused.outcome, refused.sentence))
        else:
            bundle.tasks.append(task)
            amount += len(task.data)
        if bundle.size >= BUNDLE_FILES or amount >= BUNDLE_BYTES:
            yield bundle
            bundle, amount = Bundle(), 0
    if bundle.size:
        yield bundle


def without_known(records: Records, bundle: Bundle, editions: Mapping[str, str] | None) -> Bundle:
    """The bundle without the files that were worked on already.

    `editions` says by which edition each lab is marked now (lab → id): a hand-in without marks by
    that one, or without what is kept of its journal, is worked on again. None: a receipt is
    enough.
    """
    digests = {sha256(task.data).hexdigest(): task for task in bundle.tasks}
    known = _whole(records, digests)
    marked = _marked(records, digests) if editions is not None else set()
    noted = _noted(records, digests) if editions is not None else set()
    left = Bundle(bundle.size, [], bundle.refused)
    for task in bundle.tasks:
        digest = sha256(task.data).hexdigest()
        rows = known.get(digest)
        if rows is None:
            left.tasks.append(task)
            continue
        left.received.add(digest)
        is_marked = editions is None or _has_marks(digest, marked, editions)
        if not is_marked or (editions is not None and digest not in noted):
            left.tasks.append(replace(task, marked=is_marked))
        elif task.file not in {row["file"] for row in rows} and task.file != kept_name(digest):
            left.copies.append(
                {**_without_id(rows[0]), "file": task.file, "received_at": CLOCK.now()}
            )
    return left


def keep(
    records: Records, connection: Connection, bundle: Bundle, done: Sequence[Done]
) -> list[Notice]:
    """Write what became of a bundle, and say what the instructor should know of its files."""
    bundle.received_at = moment = CLOCK.now()
    rows = [
        {**item.receipt, "received_at": moment}
        for item in done
        if not _is_our_copy(item.receipt, bundle)
    ]
    rows += [{**receipt_row(examined), "received_at": moment} for examined in bundle.refused]
    records.add(receipts, [*rows, *bundle.copies], connection)
    records.add(journals, [item.journal for item in done if item.journal], connection)
    made = [{**row, "marked_at": moment} for item in done for row in item.marks]
    records.add(marks, made, connection)
    return [
        Notice(row["file"], row["outcome"], row["sentence"])
        for row in rows
        if row["outcome"] != "whole"
    ]


def _is_our_copy(receipt: Row, bundle: Bundle) -> bool:
    digest = receipt["digest"]
    return digest in bundle.received and receipt["file"] == kept_name(digest)


def kept_name(digest: str) -> str:
    """Under which name a copy of a hand-in lies in the class's folder."""
    return f"{digest[:32]}{HAND_IN_ENDING}"


def _whole(records: Records, digests: Iterable[str]) -> dict[str, list[Row]]:
    query = select(receipts).where(
        receipts.c.digest.in_(list(digests)), receipts.c.outcome == "whole"
    )
    found: dict[str, list[Row]] = {}
    for row in records.rows(query.order_by(receipts.c.id)):
        found.setdefault(row["digest"], []).append(row)
    return found


def _marked(records: Records, digests: Iterable[str]) -> set[tuple[str, str, str]]:
    query = (
        select(marks.c.digest, marks.c.lab, marks.c.lab_digest)
        .where(marks.c.digest.in_(list(digests)))
        .distinct()
    )
    return {(row["digest"], row["lab"], row["lab_digest"]) for row in records.rows(query)}


def _noted(records: Records, digests: Iterable[str]) -> set[str]:
    query = select(journals.c.digest).where(journals.c.digest.in_(list(digests)))
    return {row["digest"] for row in records.rows(query)}


def _has_marks(digest: str, marked: set[tuple[str, str, str]], editions: Mapping[str, str]) -> bool:
    return any((digest, lab, text) in marked for lab, text in editions.items())


def _without_id(row: Row) -> dict[str, Any]:
    return {name: value for name, value in row.items() if name != "id"}

"""A second disk: a copy of the class, on which everything is saved too before it is confirmed.

The class's own disk is the truth. A line is added there first, then to the copy; where the copy
cannot take it, it is taken back and nobody hears "saved". A line that only one of them has, as a
crash leaves it, is completed on the other before anything else.
"""

from __future__ import annotations

import errno
import os
import sqlite3
from collections.abc import Iterator
from contextlib import ExitStack, closing, suppress
from pathlib import Path
from threading import Lock
from typing import Any, Final

from labkit.classroom.class_folder import RECORDS_FILE, SECRET_FILE, ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.held import HELD_FILE, holding
from labkit.classroom.private_place import OWNERS_FILE, OWNERS_FOLDER, Place
from labkit.classroom.progress import Progress
from labkit.classroom.room_entries import room_entries
from labkit.classroom.unlinked import LinkError, open_unlinked
from labkit.errors import reason
from labkit.exchange.append_only import add_line
from labkit.exchange.whole_file import PART_ENDING, sync_folder
from labkit.room.log import HELD

_MADE_ANEW: Final = {("workbooks",), ("scores",), ("print",), ("room", "played")}
"""What follows from the rest and is not copied."""
_FROM_OUTSIDE: Final = ("hand-ins", "receipts", "set-aside")
"""Where files come in while a room is open."""
_MARK: Final = "copied-from.txt"
"""A file of the copy alone, in `room/`: it says what the folder is."""
_OF_SQLITE: Final = ("", "-journal", "-wal", "-shm")
_PATIENCE_S: Final = 10
_FLAGS: Final = os.O_WRONLY | os.O_APPEND | os.O_CREAT | getattr(os, "O_BINARY", 0)
_NOT_ON_BOTH: Final = "the second disk of the trainer's machine takes nothing: tell your instructor"


class Second:
    """The copy of a class in a folder on a second disk, and whether it takes what is saved.

    `used` says whether "saved" means on both; `trouble` why nothing can be confirmed now. Raises
    `ClassError` where the copy cannot be made. It may be asked from several threads.
    """

    def __init__(self, folder: ClassFolder, to: Path, progress: Progress | None = None) -> None:
        if not to.is_dir():
            raise ClassError(f"{to} is no folder that is there. Is the second disk connected?")
        self._folder, self._top = folder, folder.path.resolve()
        self.copy = to.resolve() / self._top.name
        self._place = Place(self.copy)
        self.used, self.trouble = True, ""
        self._locks: dict[Path, Lock] = {}
        self._one_at_a_time, self._keeping = Lock(), Lock()
        self._held = ExitStack()
        self._kept: object = None
        self._require_its_own_copy()
        self._disk = _disk_of(to)
        self._apart = self._disk != _disk_of(self._top)
        try:
            self._place.write(
                f"A copy that labkit keeps of {self._top} while that class is held.\n"
                f"Should that machine fail: labkit host, with this folder, on another one.\n",
                *("room", _MARK),
            )
            self._hold()
            for steps in self._files():
                if steps[:2] == ("room", "journals"):
                    self._take_back(steps)
            self._remember()
            self._even_all(progress)
        except OSError as error:
            self.close()
            raise ClassError(
                f"The class cannot be copied to {self.copy}: {reason(error)} Make room there, let "
                "this account write to it, or choose another folder."
            ) from error
        except BaseException:
            self.close()
            raise

    def _remember(self) -> None:
        """Who is erased from the class later is told to be here too."""
        # Not before: a room without a second disk must not wait for what keeps records.
        from labkit.classroom.records.handed_on import remember

        remember(self._folder, "second disk", self.copy)

    def _require_its_own_copy(self) -> None:
        copy, top = self.copy, self._top
        if copy.is_relative_to(top) or top.is_relative_to(copy):
            raise ClassError(f"{copy} is the class itself. Name a folder on another disk.")
        if not copy.exists() or not any(copy.iterdir()):
            return
        marked = (copy / "room" / _MARK).exists()
        secret = copy / SECRET_FILE
        if not marked or (secret.exists() and secret.read_bytes() != self._of_class(SECRET_FILE)):
            raise ClassError(
                f"{copy} is there already and is no copy that labkit keeps of this class. Name "
                "another folder."
            )
        require_older(self._folder, copy)

    def _of_class(self, *steps: str) -> bytes:
        with open_unlinked(self._top.joinpath(*steps), self._top) as source:
            return source.read()

    @property
    def now(self) -> dict[str, Any]:
        """How it is, for the trainer's page."""
        return {"place": str(self.copy), "used": self.used, "trouble": self.trouble}

    @property
    def remarks(self) -> list[str]:
        """What the trainer should know of the copy."""
        said = [
            f"Saved means on both disks: here and in {self.copy}. That copy holds the secret, "
            "names and answers too: lock it away afterwards."
        ]
        if not self._apart:
            said.append(
                "Both are on the same disk, as far as this machine tells: should it fail, both are "
                "gone."
            )
        if self._records_steps() is None:
            said.append("The records of this class lie outside its folder and are not copied.")
        return said

    # What is added

    def add(self, file: Path, line: bytes) -> None:
        """Add a line to a file of the class and to its copy, wait for both. Raises `OSError`.

        What is not on both is on neither, unless the machine fails in between.
        """
        with self._lock_of(file):
            if self.trouble:
                raise OSError(errno.EIO, _NOT_ON_BOTH)
            if not self.used:
                add_line(file, line)
                return
            before = _size(file)
            try:
                self._complete(file)
                add_line(file, line)
                self._complete(file)
            except _CopyError as error:
                if _size(file) > before:
                    _cut(file, before)
                raise self._failed(error) from error

    def _lock_of(self, file: Path) -> Lock:
        with self._one_at_a_time:
            return self._locks.setdefault(file, Lock())

    def _complete(self, file: Path) -> None:
        """What a file has more than its copy, the copy gets too. Raises `_CopyError`."""
        copy = self.copy / file.relative_to(self._folder.path)
        try:
            self._require_there()
            have, size = _size(copy), _size(file)
        except OSError as error:
            raise _CopyError(error) from error
        if have == size:
            return
        with file.open("rb") as source:
            source.seek(have)
            rest = source.read()
        try:
            if have > size:
                raise OSError(errno.EIO, "it is not as it was left")
            _append(copy, rest)
        except OSError as error:
            # On a full disk part of it may lie there.
            with suppress(OSError):
                _cut(copy, have)
            raise _CopyError(error) from error

    def _require_there(self) -> None:
        # The place of a disk that was pulled out may be a folder of the first one now.
        if not self.copy.exists() or _disk_of(self.copy) != self._disk:
            raise OSError(errno.ENODEV, "it is not connected")

    def _failed(self, error: Exception) -> OSError:
        why = error.args[0] if isinstance(error, _CopyError) else error
        if not self.used:
            return OSError(errno.EIO, _NOT_ON_BOTH)
        self.trouble = (
            f"The second disk does not take what is saved: {reason(why)} Until it does, nothing is "
            "confirmed. What was typed stays on the trainees' pages. Put the disk back in and use "
            "it again, or go on without it; then the pages save it by themselves."
        )
        return OSError(errno.EIO, _NOT_ON_BOTH)

    # What comes in

    def keep_up(self) -> None:
        """Copy what came in since the last time: hand-ins, receipts, records.

        Raises `OSError` where the copy does not take it, `ClassError` while others write records.
        """
        with self._keeping:
            if self.trouble:
                raise OSError(errno.EIO, _NOT_ON_BOTH)
            if not self.used:
                return
            now = self._state_of_records()
            try:
                # Also where nothing came in: the trainer hears at once that it was pulled out.
                self._require_there()
                if now is not None and now == self._kept:
                    return
                for steps in self._files(*_FROM_OUTSIDE):
                    self._even(steps)
                self._keep_records()
            except OSError as error:
                raise self._failed(error) from error
            self._kept = now

    def keep_files(self, *files: tuple[str, ...]) -> None:
        """Copy some files of the class as they are now. Raises `OSError`."""
        if not self.used or self.trouble:
            return
        try:
            for steps in files:
                self._even(steps)
        except OSError as error:
            raise self._failed(error) from error

    def _records_steps(self) -> tuple[str, ...] | None:
        """Where the records lie in the class; None where they lie elsewhere."""
        named = self._folder.fields.records
        if named is None:
            return (RECORDS_FILE,)
        # Not before: most classes have no need of what knows databases.
        from labkit.classroom.records.store import Records

        file = Records.as_they_are(self._folder).file
        if file is None or not file.resolve().is_relative_to(self._top):
            return None
        return file.resolve().relative_to(self._top).parts

    def _state_of_records(self) -> object:
        steps = self._records_steps()
        if steps is None:
            return None
        file, found = self._top.joinpath(*steps), []
        for ending in ("", "-wal"):
            with suppress(FileNotFoundError):
                state = file.with_name(file.name + ending).stat()
                found.append((state.st_mtime_ns, state.st_size))
        return found

    def _keep_records(self) -> None:
        """The records as they are at one moment, by SQLite's own backup."""
        steps = self._records_steps()
        if steps is None or not (file := self._top.joinpath(*steps)).exists():
            return
        try:
            with (
                closing(sqlite3.connect(file, timeout=_PATIENCE_S)) as records,
                closing(sqlite3.connect(":memory:")) as moment,
            ):
                records.backup(moment)
                data = moment.serialize()
        except sqlite3.Error as error:
            raise ClassError(
                f"The records cannot be copied to the second disk now ({error}). Is another "
                "program writing there?"
            ) from error
        self._place.write(data, *steps)

    # Going on without it, and with it again

    def drop(self) -> None:
        """Go on without it."""
        self.used, self.trouble = False, ""
        self.close()

    def again(self) -> None:
        """Copy what is missing and go on with it. Raises `ClassError`, `OSError`."""
        try:
            place = self.copy.parent
            if not place.exists() or (self._apart and _disk_of(place) == _disk_of(self._top)):
                raise OSError(errno.ENODEV, "it is not connected")
            self._disk = _disk_of(place)
            self._require_its_own_copy()
            self.close()
            self._hold()
            self._even_all()
        except OSError as error:
            raise ClassError(f"The second disk cannot be used yet: {reason(error)}") from error
        self.used, self.trouble = True, ""
        try:
            # What was added meanwhile. From here on every line completes its own file first.
            self._even_all()
        except OSError as error:
            raise self._failed(error) from error

    def close(self) -> None:
        """Let others hold the copy."""
        with suppress(OSError, sqlite3.Error):
            self._held.close()

    def _hold(self) -> None:
        self._held.enter_context(holding(ClassFolder(self.copy, self._folder.fields)))

    def _even_all(self, progress: Progress | None = None) -> None:
        # Later only folders of one trainee are made: none where the disk itself is gone.
        self._place.made("room", "journals")
        now, files = self._state_of_records(), list(self._files())
        for done, steps in enumerate(files, 1):
            self._even(steps)
            if progress:
                progress(done, len(files))
        self._keep_records()
        self._kept = now

    def _files(self, *folders: str) -> Iterator[tuple[str, ...]]:
        """The files of the class that are copied, or of these folders; links are left out."""
        records = self._records_steps() or (RECORDS_FILE,)
        left_out = {
            *((*records[:-1], records[-1] + ending) for ending in _OF_SQLITE),
            *(("room", HELD_FILE + ending) for ending in _OF_SQLITE),
            ("room", _MARK),
        }
        for top in [self._top / folder for folder in folders] or [self._top]:
            for place, inner, names in os.walk(top):
                within = Path(place).relative_to(self._top).parts
                inner[:] = sorted(name for name in inner if (*within, name) not in _MADE_ANEW)
                for name in sorted(names):
                    if (*within, name) not in left_out and not name.endswith(PART_ENDING):
                        yield (*within, name)

    def _even(self, steps: tuple[str, ...]) -> None:
        """Make the copy of a file equal to it."""
        with self._lock_of(self._folder.path.joinpath(*steps)):
            try:
                data = self._of_class(*steps)
            except (FileNotFoundError, LinkError):
                return
            if data != self._of_copy(*steps):
                self._place.write(data, *steps)

    def _of_copy(self, *steps: str) -> bytes | None:
        with suppress(FileNotFoundError):
            return self.copy.joinpath(*steps).read_bytes()
        return None

    def _take_back(self, steps: tuple[str, ...]) -> None:
        """Whole lines that only the copy has, where it goes on from all that is here.

        A disk that said too early that it has something leaves it so.
        """
        here, there = self._of_class(*steps), self._of_copy(*steps) or b""
        rest = there[len(here) : there.rfind(b"\n") + 1]
        if rest and there.startswith(here):
            _append(self._top.joinpath(*steps), rest)


class _CopyError(Exception):
    """Why the copy could not be written; the class's own disk may be well."""


def _disk_of(place: Path) -> int:
    return place.stat().st_dev


def _size(file: Path) -> int:
    try:
        return file.stat().st_size
    except FileNotFoundError:
        return 0


def _append(file: Path, data: bytes) -> None:
    """Add bytes to a file, and wait for the disk. At most the folder that it lies in is made."""
    if not file.parent.is_dir():
        file.parent.mkdir(OWNERS_FOLDER)
        sync_folder(file.parent.parent)
    with os.fdopen(os.open(file, _FLAGS, OWNERS_FILE), "ab") as stream:
        begun = stream.tell() > 0
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())
    if not begun:
        sync_folder(file.parent)


def _cut(file: Path, size: int) -> None:
    with file.open("r+b") as stream:
        stream.truncate(size)
        os.fsync(stream.fileno())


def _openings(log: Path) -> dict[str, dict[str, Any]]:
    """What a room's log says of each opening of the room, in their order."""
    found = {}
    with suppress(OSError):
        for entry in room_entries(log):
            if entry.get("act") == HELD:
                found[str(entry.get("opening"))] = entry
    return found


def require_older(folder: ClassFolder, copy: Path) -> None:
    """Raise `ClassError` where a copy was held since as a class of its own: it is newer."""
    there = _openings(copy / folder.room_log.relative_to(folder.path))
    if there.keys() - _openings(folder.room_log).keys():
        raise ClassError(
            f"The copy {copy} was held since, and holds what {folder.path} does not. Go on with "
            f"it: labkit host {copy}. If that was a trial only, move that copy away first."
        )


def remarks_on_copies(folder: ClassFolder, second: Second | None) -> list[str]:
    """What to know of copies before a class is held. Raises `ClassError` where one is newer."""
    if (folder.room / _MARK).exists():
        return [
            "This folder was the copy on a second disk. The machine that it comes from must not "
            "hold the class any more."
        ]
    openings = list(_openings(folder.room_log).values())
    said = str(openings[-1].get("second", "")) if openings else ""
    if not said or (second and second.copy == Path(said)):
        return []
    copy = Path(said)
    if (copy / "room" / _MARK).exists():
        require_older(folder, copy)
        return []
    return [
        f"This class was held last with a copy in {copy}. If it was held from that copy since, on "
        "another machine, end this room (Ctrl+C) and go on with the copy: what came in there is "
        "not here."
    ]

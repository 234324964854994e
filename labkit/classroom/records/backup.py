"""A class in one file, and the way back.

The file is a ZIP: all plain files of the class folder, the records as they were at one moment, and
a list of all with their SHA-256. Records on a server are in it as an SQLite file of the same
entries.
"""

from __future__ import annotations

import json
import os
import shutil
import tempfile
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path, PurePosixPath
from typing import Any, BinaryIO, Final

from labkit.classroom.class_folder import RECORDS_FILE, ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.private_place import OWNERS_FILE, Place
from labkit.classroom.records.handed_on import remember
from labkit.classroom.records.store import Records
from labkit.classroom.unlinked import LinkError, open_unlinked
from labkit.exchange.clock import CLOCK
from labkit.exchange.parts import Parts, misfit, of
from labkit.exchange.whole_file import writing_whole

_LIST: Final = "labkit-backup.json"
_FORMAT: Final = "labkit backup"
_VERSION: Final = 1
_BLOCK: Final = 1 << 20
_UNREADABLE: Final = (
    *(zipfile.BadZipFile, zlib.error, EOFError, KeyError, ValueError),
    *(NotImplementedError, RuntimeError),
)
"""What Python's reader raises for a ZIP that is damaged."""
_OF_SQLITE: Final = ("", "-journal", "-wal", "-shm")
"""How the names of a database's file and of those that SQLite puts beside it end."""
_PARTS: Final[Parts] = {
    "format": of(str),
    "version": of(int),
    "records": of(str),
    "on_server": of(bool),
    "files": lambda value: isinstance(value, dict) and all(map(of(str), value.values())),
}


@dataclass(frozen=True, slots=True)
class BackedUp:
    """What a backup holds; `code` names the state of the records, `left_out` is what it lacks."""

    file: Path
    files: int
    code: str
    left_out: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Restored:
    """What came back; `on_server` where the class has its records outside its folder."""

    folder: Path
    files: int
    code: str
    on_server: bool


def back_up(folder: ClassFolder, file: Path) -> BackedUp:
    """Write the class into `file`, whole or not at all, and read it again.

    Raises `ClassError` and `OSError`.

    Links are left out: what they lead to is not the class's own.
    """
    top = folder.path.resolve()
    if file.resolve().is_relative_to(top):
        raise ClassError(
            f"{file} lies in the class itself, and would be lost with it. Choose a place outside, "
            "such as a stick."
        )
    if file.is_dir():
        raise ClassError(f"{file} is a folder. Give the backup a name, such as class.zip.")
    if not file.parent.is_dir():
        raise ClassError(f"{file.parent} is not there. Is the stick or the share connected?")
    remember(folder, "backup", file)
    left_out: list[str] = []
    listed: dict[str, str] = {}
    with (
        tempfile.TemporaryDirectory() as aside,
        writing_whole(file, mode=OWNERS_FILE) as stream,
        zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED, strict_timestamps=False) as packed,
    ):
        copy, records = Path(aside) / RECORDS_FILE, Records.of(folder)
        file_of_records = records.file.resolve() if records.file else None
        inside = file_of_records is not None and file_of_records.is_relative_to(top)
        kept = file_of_records if file_of_records and inside else top / RECORDS_FILE
        code = records.copied_to(copy)
        with copy.open("rb") as source:
            name = kept.relative_to(top).as_posix()
            listed[name] = _packed(packed, name, source)
        for path in _files(top, kept):
            name = path.relative_to(top).as_posix()
            try:
                with open_unlinked(path, top) as source:
                    listed[name] = _packed(packed, name, source)
            except LinkError:
                left_out.append(name)
        about = {
            "format": _FORMAT,
            "version": _VERSION,
            "class": folder.fields.id,
            "made_at": CLOCK.now(),
            "records": code,
            "on_server": not inside,
            "files": listed,
        }
        packed.writestr(_LIST, json.dumps(about, indent=1, ensure_ascii=False))
    try:
        check_backup(file)
    except ClassError as error:
        raise ClassError(
            f"{file} does not read as it was written. Try another stick or disk; the class itself "
            "is as it was."
        ) from error
    return BackedUp(file, len(listed), code, tuple(left_out))


def check_backup(file: Path) -> int:
    """Read a backup again, and say how many files are whole in it. Raises `ClassError`."""
    try:
        with zipfile.ZipFile(file) as packed:
            files = _about(packed, file)["files"]
            for name, digest in files.items():
                _require_whole(packed, file, name, digest)
    except _UNREADABLE as error:
        raise ClassError(_damaged(file, str(error))) from error
    return len(files)


def _files(top: Path, records: Path) -> Iterator[Path]:
    """Every file of the class but its `records`, which are copied by the database itself."""
    of_records = {records.with_name(records.name + ending) for ending in _OF_SQLITE}
    for place, folders, files in os.walk(top):
        folders.sort()
        for name in sorted(files):
            if Path(place) / name not in of_records:
                yield Path(place) / name
        yield from (Path(place) / name for name in folders if (Path(place) / name).is_symlink())


def _packed(packed: zipfile.ZipFile, name: str, source: BinaryIO) -> str:
    digest = sha256()
    with packed.open(name, "w", force_zip64=True) as target:
        while block := source.read(_BLOCK):
            digest.update(block)
            target.write(block)
    return digest.hexdigest()


def restore(file: Path, to: Path) -> Restored:
    """Make the class in `file` anew in the folder `to`. Nothing is written of a damaged one.

    Raises `ClassError` for a file that is no backup or is damaged, and for a folder with something
    in it; `OSError`.
    """
    if to.exists() and (not to.is_dir() or any(to.iterdir())):
        raise ClassError(
            f"{to} is there already. Give a new folder: nothing that is there is written over."
        )
    try:
        with zipfile.ZipFile(file) as packed:
            about = _about(packed, file)
            for name, digest in about["files"].items():
                _require_whole(packed, file, name, digest)
            place = Place(to)
            for name in about["files"]:
                with packed.open(name) as source, place.writing(*name.split("/")) as target:
                    shutil.copyfileobj(source, target, _BLOCK)
    except _UNREADABLE as error:
        raise ClassError(_damaged(file, str(error))) from error
    ClassFolder.open(to).open_for_hand_ins()
    return Restored(to, len(about["files"]), about["records"], about["on_server"])


def _about(packed: zipfile.ZipFile, file: Path) -> dict[str, Any]:
    try:
        about = json.loads(packed.read(_LIST))
    except (KeyError, ValueError, RecursionError):
        about = None
    if way := misfit(about, _PARTS):
        raise ClassError(
            f"{file} is not a backup that labkit made, or it is damaged: {_LIST} in it is missing "
            f"or cannot be read{f' ({way[0]})' if way[0] else ''}."
        )
    if about["format"] != _FORMAT:
        raise ClassError(f"{file} is not a backup that labkit made.")
    if about["version"] > _VERSION:
        raise ClassError(f"{file} was made by a newer labkit: restore it with that one.")
    for name in about["files"]:
        if name.startswith("/") or "\\" in name or ":" in name or not _plain(name):
            raise ClassError(_damaged(file, f"a file in it is called '{name}'"))
    return dict(about)


def _plain(name: str) -> bool:
    steps = name.split("/")
    return PurePosixPath(name).parts == tuple(steps) and ".." not in steps and "." not in steps


def _require_whole(packed: zipfile.ZipFile, file: Path, name: str, digest: str) -> None:
    found = sha256()
    with packed.open(name) as source:
        while block := source.read(_BLOCK):
            found.update(block)
    if found.hexdigest() != digest:
        raise ClassError(_damaged(file, f"{name} is not as it was packed"))


def _damaged(file: Path, why: str) -> str:
    return f"{file} is damaged ({why}): use another copy of it. Nothing was written."

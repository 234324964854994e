"""Archives of hand-ins (ZIP), as mail programs and file shares make them: opened beside the class.

An archive is data from anywhere: what it says of itself is not believed, how much is taken out of
it is bounded, and none of its names becomes a path.
"""

from __future__ import annotations

import os
import re
import stat
import struct
import zlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from shutil import rmtree
from tempfile import TemporaryDirectory
from typing import Final
from zipfile import ZIP_DEFLATED, ZIP_STORED, BadZipFile, ZipFile, ZipInfo

from labkit.classroom.errors import ClassError
from labkit.classroom.handins.choosing import Notice
from labkit.classroom.handins.receiving import LINK, MAX_BYTES, may_be_one, shown

ARCHIVE_ENDING: Final = ".zip"
MOST_BYTES: Final = 64_000_000
"""Of an archive itself."""
MOST_FILES: Final = 2_000
MOST_UNPACKED: Final = 256_000_000
_LONGEST_NAME: Final = 255
_ENTRY: Final = b"PK\x01\x02"
"""How each entry of an archive's list begins."""
_LOCKED: Final = 0x1
_ON_WINDOWS: Final = os.name == "nt"
# What no name may hold here; and names that open a device there.
_NOT_IN_NAMES: Final = re.compile(r'[\x00-\x1f<>:"|?*]' if _ON_WINDOWS else "\x00")
_DEVICE: Final = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\.|$)", re.IGNORECASE)
_WRONG: Final = (
    BadZipFile,
    EOFError,
    NotImplementedError,
    OverflowError,
    RuntimeError,
    ValueError,
    struct.error,
    zlib.error,
)
"""What reading a damaged archive may raise."""
_INSTEAD: Final = "Unpack it yourself, and take the folder in."


class _RefusedError(ClassError):
    """Why nothing of an archive is taken in."""


def plain_name(name: str) -> str:
    """The last part of a name from anywhere, as this system takes it for a file; it ends the same.

    A name that a file can have here stays as it is.
    """
    last = re.split(r"[/\\]", name)[-1].encode("utf-8", "replace").decode()
    plain = _NOT_IN_NAMES.sub("_", last)
    if not plain.strip(".") or (_ON_WINDOWS and _DEVICE.match(plain)):
        plain = f"_{plain}"
    if len(plain.encode()) > _LONGEST_NAME:
        return "_" + plain.encode()[1 - _LONGEST_NAME :].decode("utf-8", "ignore")
    return plain


def is_archive(name: str) -> bool:
    """Whether a file of that name is opened as an archive."""
    return name.lower().endswith(ARCHIVE_ENDING)


@contextmanager
def unpacked(sources: Sequence[Path]) -> Iterator[tuple[list[Path], list[Notice]]]:
    """The sources, for each archive among them a folder with what is in it, and what is wrong.

    An archive that lies in a folder is none of the sources: it stays a file like any other.
    """
    archives = [one for one in sources if is_archive(one.name) and _is_file(one)]
    places = [one for one in sources if one not in archives]
    with TemporaryDirectory(prefix="labkit-") as beside:
        notices: list[Notice] = []
        for number, archive in enumerate(archives):
            into = Path(beside) / str(number)
            into.mkdir()
            try:
                notices += _unpack(archive, into)
            except _RefusedError as refused:
                notices.append(Notice(shown(archive), "not read", str(refused)))
                rmtree(into)
            else:
                places.append(into)
        yield places, notices


def _is_file(source: Path) -> bool:
    return source.is_file() and not source.is_symlink()


def _unpack(file: Path, into: Path) -> list[Notice]:
    """Write an archive's files below a folder, each into a folder of its own."""
    notices: list[Notice] = []
    left = MOST_UNPACKED
    with _opened(file) as archive:
        for number, entry in enumerate(archive.infolist()):
            name = plain_name(entry.filename)
            if entry.is_dir():
                continue
            if stat.S_ISLNK(entry.external_attr >> 16):
                notices.append(Notice(name, "not read", LINK))
                continue
            # What has another name is not opened: an empty file stands for it, to be counted.
            data = _bytes_of(archive, entry) if may_be_one(name) else b""
            if data is None:
                notices.append(Notice(name, "damaged", f"It is damaged in {shown(file)}."))
                continue
            left -= len(data)
            if left < 0:
                raise _RefusedError(
                    f"It unpacks to more than labkit takes out of one ({MOST_UNPACKED} bytes). "
                    f"Nothing in it was read. {_INSTEAD}"
                )
            home = into / f"{number:05}"
            home.mkdir()
            (home / name).write_bytes(data)
    return notices


def _opened(file: Path) -> ZipFile:
    """An archive within bounds, all of whose entries can be opened. Raises `_RefusedError`."""
    with file.open("rb") as stream:
        data = stream.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise _RefusedError(f"It is longer than labkit unpacks ({MOST_BYTES} bytes). {_INSTEAD}")
    # Counted before its list is read: the list itself may be longer than memory.
    if (entries := data.count(_ENTRY)) > MOST_FILES:
        raise _RefusedError(
            f"It holds {entries} files, and labkit takes {MOST_FILES} at most out of one. "
            f"{_INSTEAD}"
        )
    try:
        archive = ZipFile(BytesIO(data))
    except _WRONG as error:
        raise _RefusedError(
            "It is cut off, damaged or no ZIP file: nothing in it was read. Ask for it again."
        ) from error
    found = [entry for entry in archive.infolist() if not entry.is_dir()]
    if any(entry.flag_bits & _LOCKED for entry in found):
        raise _RefusedError(f"It is locked with a password, which labkit asks for none. {_INSTEAD}")
    # Only of these two ways it is known how much memory a piece takes.
    if any(entry.compress_type not in (ZIP_STORED, ZIP_DEFLATED) for entry in found):
        raise _RefusedError(f"It is packed in a way that labkit does not open. {_INSTEAD}")
    return archive


def _bytes_of(archive: ZipFile, entry: ZipInfo) -> bytes | None:
    """As much of an entry as tells that it is too long; None for a damaged one."""
    try:
        with archive.open(entry) as stream:
            return stream.read(MAX_BYTES + 1)
    except _WRONG:
        return None

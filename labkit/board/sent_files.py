"""Files that a page sends in one go: a line of JSON with names and lengths, then their bytes."""

from __future__ import annotations

import json
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager
from pathlib import Path
from shutil import rmtree
from tempfile import mkdtemp
from typing import BinaryIO, Final

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request

from labkit.classroom.errors import ClassError
from labkit.classroom.handins.unpacking import plain_name

LONGEST_LINE: Final = 64 * 1024
_NO_MESSAGE: Final = "That is no message of this page: load the page again."
_PIECE: Final = 1024 * 1024


@asynccontextmanager
async def sent_in(request: Request, most: int) -> AsyncIterator[Path]:
    """What a page sends, as it comes in, in a file that is gone afterwards.

    Raises `ClassError` for more than `most` bytes, `OSError`.
    """
    place = Path(await run_in_threadpool(mkdtemp, prefix="labkit-"))
    try:
        body = place / "sent"
        with body.open("xb") as stream:
            left = most
            async for piece in request.stream():
                left -= len(piece)
                if left < 0:
                    raise ClassError("That is too much in one go: load the page again.")
                await run_in_threadpool(stream.write, piece)
        yield body
    finally:
        await run_in_threadpool(rmtree, place, ignore_errors=True)


def files_of(body: Path) -> list[Path]:
    """Write the files beside what was sent, each whole and in a folder of its own.

    Raises `ClassError` for what no page of ours sends.
    """
    found = []
    with body.open("rb") as stream:
        for number, (name, length) in enumerate(_told(stream.readline(LONGEST_LINE))):
            home = body.parent / f"{number:05}"
            home.mkdir()
            found.append(home / plain_name(name))
            _copy(stream, found[-1], length)
        if stream.read(1):
            raise ClassError(_NO_MESSAGE)
    return found


def _told(line: bytes) -> Iterator[tuple[str, int]]:
    try:
        told = json.loads(line)
    except (ValueError, RecursionError):
        told = None
    for each in told if isinstance(told, list) else [None]:
        match each:
            case [str(name), int(length)] if length >= 0 and not isinstance(length, bool):
                yield name, length
            case _:
                raise ClassError(_NO_MESSAGE)


def _copy(stream: BinaryIO, target: Path, length: int) -> None:
    left = length
    with target.open("xb") as made:
        while left:
            piece = stream.read(min(left, _PIECE))
            if not piece:
                raise ClassError("Not everything came through: drop the files once more.")
            made.write(piece)
            left -= len(piece)

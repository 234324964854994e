"""Holding a class: one machine, one address, until somebody ends it."""

from __future__ import annotations

import asyncio
import socket
import sys
import webbrowser
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, closing, contextmanager, nullcontext, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import uvicorn

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.held import holding
from labkit.classroom.progress import Progress
from labkit.errors import LabkitError
from labkit.exchange.journal import MAX_ANSWER
from labkit.page.play_processes import PlayProcesses
from labkit.page.serving import listening
from labkit.room.app import room_app
from labkit.room.certificate import Certificate
from labkit.room.room import Room
from labkit.room.second import Second, remarks_on_copies
from labkit.room.trainers import Trainers
from labkit.room.way import opened_address

PORT: Final = 8642
_TURN_S: Final = 0.0005
"""Seconds after which a drill that is drawn, or an answer at a bench that is checked, lets others
run: ten times sooner than usual, since whoever only answers waits for several turns."""
_CONNECTIONS: Final = 2000
_LONGEST_MESSAGE: Final = 8 * MAX_ANSWER


@dataclass(frozen=True, slots=True)
class Opened:
    """Where an open room is reached; the trainer's address holds the key.

    `remarks` is what the trainer should know of copies of the class.
    """

    address: str
    trainers_address: str
    remarks: tuple[str, ...] = ()


def host(
    folder: ClassFolder,
    address: str,
    port: int,
    said: Callable[[Opened], None],
    *,
    browser: bool,
    second: Path | None = None,
    copying: AbstractContextManager[Progress] | None = None,
    certificate: Certificate | None = None,
) -> None:
    """Hold the class of a folder at one address until it is ended (Ctrl+C).

    `said` is called once it can be reached. `second` is a folder on another disk, on which
    everything is saved too; `copying` shows how far the class is copied there. Raises `WayError`
    where the address or the port cannot be had, `CertificateError` for a certificate of another
    address, `ClassError` when the class was not dealt yet, its room is open already, or there is
    no copy to be had.
    """
    place_of = certificate.opened if certificate else opened_address
    with listening(address, port) as made:
        place = place_of(address, made.getsockname()[1])
        with (
            holding(folder),
            _copied(folder, second, copying) as copy,
            closing(PlayProcesses()) as processes,
        ):
            remarks = (*remarks_on_copies(folder, copy), *(copy.remarks if copy else ()))
            room = Room(folder, copy, processes)
            room.held()
            trainers = Trainers([place])
            opened = Opened(place, f"{place}/trainer#{trainers.key}", remarks)
            config = uvicorn.Config(
                room_app(room, trainers),
                log_level="critical",
                access_log=False,
                server_header=False,
                proxy_headers=False,
                limit_concurrency=_CONNECTIONS,
                ws_max_size=_LONGEST_MESSAGE,
                ws="websockets-sansio",
                ssl_certfile=certificate.file if certificate else None,
                ssl_keyfile=certificate.key if certificate else None,
                timeout_graceful_shutdown=3,
            )

            sys.setswitchinterval(_TURN_S)

            def begun() -> None:
                said(opened)
                if browser:
                    webbrowser.open(opened.trainers_address)

            asyncio.run(_serve(uvicorn.Server(config), made, begun))


@contextmanager
def _copied(
    folder: ClassFolder, to: Path | None, copying: AbstractContextManager[Progress] | None
) -> Iterator[Second | None]:
    """The copy of a class on a second disk, as long as it is held."""
    if to is None:
        yield None
        return
    with copying or nullcontext() as progress:
        second = Second(folder, to, progress)
    try:
        yield second
    finally:
        # What came in within the last second.
        with suppress(OSError, LabkitError):
            second.keep_up()
        second.close()


async def _serve(server: uvicorn.Server, made: socket.socket, begun: Callable[[], None]) -> None:
    serving = asyncio.create_task(server.serve([made]))
    while not server.started and not serving.done():
        await asyncio.sleep(0.02)
    if server.started:
        await asyncio.to_thread(begun)
    await serving

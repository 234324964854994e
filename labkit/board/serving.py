"""The board served to the browser of this machine alone."""

from __future__ import annotations

import asyncio
import socket
import webbrowser
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Final

import uvicorn

from labkit.board.app import board_app
from labkit.board.asked import Asked
from labkit.board.classes import Classes
from labkit.board.held_rooms import HeldRooms
from labkit.classroom.class_folder import CLASS_FILE
from labkit.room.trainers import Trainers
from labkit.room.way_check import first_free, listening

PORT: Final = 8640
_HERE: Final = "127.0.0.1"


def serve_board(
    path: Path,
    said: Callable[[str], None],
    *,
    name: str = "",
    port: int | None = None,
    browser: bool = True,
) -> None:
    """Show the classes in a folder, or one class, until it is ended (Ctrl+C).

    `said` is called with the address, which holds the key, once it answers; `name` is proposed to
    who signs in. Without a `port` it is `PORT`, or the next one that is free. Raises `WayError`
    where none can be had.
    """
    port = first_free(_HERE, PORT) if port is None else port
    path = path.resolve()
    one = path.name if (path / CLASS_FILE).is_file() else ""
    with listening(_HERE, port) as made, closing(HeldRooms()) as rooms:
        here, trainers = made.getsockname()[1], Trainers()
        asked = Asked(Classes(path.parent if one else path), trainers, f"labkit-board-{here}")
        config = uvicorn.Config(
            board_app(asked, rooms, name),
            log_level="critical",
            access_log=False,
            server_header=False,
            proxy_headers=False,
            timeout_graceful_shutdown=3,
        )
        place = f"class/{one}/" if one else ""
        address = f"http://{_HERE}:{here}/{place}#{trainers.key}"

        def begun() -> None:
            said(address)
            if browser:
                webbrowser.open(address)

        _Server(config, begun).run([made])


class _Server(uvicorn.Server):
    """Says when it answers."""

    def __init__(self, config: uvicorn.Config, begun: Callable[[], None]) -> None:
        super().__init__(config)
        self._begun = begun

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            await asyncio.to_thread(self._begun)

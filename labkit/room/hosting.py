"""Holding a class: one machine, one address, until somebody ends it."""

from __future__ import annotations

import asyncio
import socket
import webbrowser
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import uvicorn

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.held import holding
from labkit.exchange.journal import MAX_ANSWER
from labkit.room.app import room_app
from labkit.room.room import Room
from labkit.room.trainers import Trainers
from labkit.room.way import opened_address
from labkit.room.way_check import listening

PORT: Final = 8642
_CONNECTIONS: Final = 2000
_LONGEST_MESSAGE: Final = 8 * MAX_ANSWER


@dataclass(frozen=True, slots=True)
class Opened:
    """Where an open room is reached; the trainer's address holds the key."""

    address: str
    trainers_address: str


def host(
    folder: ClassFolder, address: str, port: int, said: Callable[[Opened], None], *, browser: bool
) -> None:
    """Hold the class of a folder at one address until it is ended (Ctrl+C).

    `said` is called once it can be reached. Raises `WayError` where the address or the port
    cannot be had, `ClassError` when the class was not dealt yet or its room is open already.
    """
    with listening(address, port) as made, holding(folder):
        place = opened_address(address, made.getsockname()[1])
        trainers = Trainers([place])
        app = room_app(Room(folder), trainers)
        opened = Opened(place, f"{place}/trainer#{trainers.key}")
        config = uvicorn.Config(
            app,
            log_level="critical",
            access_log=False,
            server_header=False,
            proxy_headers=False,
            limit_concurrency=_CONNECTIONS,
            ws_max_size=_LONGEST_MESSAGE,
            ws="websockets-sansio",
            timeout_graceful_shutdown=3,
        )

        def begun() -> None:
            said(opened)
            if browser:
                webbrowser.open(opened.trainers_address)

        asyncio.run(_serve(uvicorn.Server(config), made, begun))


async def _serve(server: uvicorn.Server, made: socket.socket, begun: Callable[[], None]) -> None:
    serving = asyncio.create_task(server.serve([made]))
    while not server.started and not serving.done():
        await asyncio.sleep(0.02)
    if server.started:
        await asyncio.to_thread(begun)
    await serving

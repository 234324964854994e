"""The room in a browser: the sides of trainees, trainer and projector, as one application.

Whatever waits for the disk is done in threads. Every act is asked for by POST from a page of this
host; who asks is read from a pass in a cookie, never from what the page says.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from typing import Final
from urllib.parse import urlsplit

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import ASGIApp

from labkit.errors import LabkitError, sentences
from labkit.page.app import PageHost, WithHeaders
from labkit.page.known_host import KnownHost
from labkit.room.asking import no
from labkit.room.board import Board
from labkit.room.marking_side import MarkingSide
from labkit.room.patience import Patience
from labkit.room.projector_side import ProjectorSide
from labkit.room.room import Room
from labkit.room.trainee_side import TraineeSide
from labkit.room.trainer_side import TrainerSide
from labkit.room.trainers import Trainers

_EVERY_S: Final = 1.0
"""Seconds between two looks at whose time is up."""


def room_app(room: Room, trainers: Trainers) -> ASGIApp:
    """The application that serves one room."""
    patience = Patience()
    trainees = TraineeSide(room, patience)
    projector = ProjectorSide(room, trainers, patience)
    board = Board(room)
    trainer = TrainerSide(room, trainers, patience, trainees.pages, projector, board)
    marking = MarkingSide(room, trainer, trainees.pages)
    upkeep = _Upkeep(room, trainees.pages, board)
    app = Starlette(
        routes=[*trainees.routes, *trainer.routes, *projector.routes, *marking.routes],
        lifespan=upkeep.running,
        exception_handlers={LabkitError: upkeep.failed, OSError: upkeep.failed},
    )
    names = {urlsplit(address).hostname or "" for address in trainers.addresses}
    return WithHeaders(KnownHost(app, names))


class _Upkeep:
    """What is done while the room is open, and where something goes wrong."""

    def __init__(self, room: Room, pages: PageHost, board: Board) -> None:
        self._room, self._pages, self._board = room, pages, board

    @asynccontextmanager
    async def running(self, _: Starlette) -> AsyncIterator[None]:
        """While the room is open, what is shut is handed in, and the board kept up."""
        going_on = [asyncio.create_task(each) for each in (self._look(), self._keep_up())]
        yield
        for each in going_on:
            each.cancel()
            with suppress(asyncio.CancelledError):
                await each

    async def _look(self) -> None:
        while True:
            try:
                if await run_in_threadpool(self._room.look_again):
                    await self._pages.let_go()
                for item in await run_in_threadpool(self._room.settle):
                    if workbook := self._room.workbooks.known(item):
                        await self._pages.tell_news(workbook.desk)
            except (OSError, LabkitError) as error:
                self._room.trouble.tell(" ".join(sentences(error)))
            await asyncio.sleep(_EVERY_S)

    async def _keep_up(self) -> None:
        """Apart from the above: a check may take its time."""
        while True:
            try:
                self._board.sees(self._pages.who_is_here())
                await run_in_threadpool(self._board.keep_up)
            except Exception as error:  # a board that stands still without a word would mislead
                self._room.trouble.tell(
                    f"The board is not up to date: {' '.join(sentences(error))}"
                )
            await asyncio.sleep(_EVERY_S)

    async def failed(self, _: Request, error: Exception) -> Response:
        """The trainer is told what is wrong; on a trainee's page it would be nobody's business."""
        self._room.trouble.tell(" ".join(sentences(error)))
        return no("The trainer's machine could not do that. Tell your instructor.", 503)

"""The projector's side of a room: a page without a person, and its key."""

from __future__ import annotations

import secrets
from hmac import compare_digest
from pathlib import Path
from typing import Any, Final

from anyio import CapacityLimiter
from anyio.to_thread import run_sync
from starlette.requests import HTTPConnection, Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from labkit.page.app import file_of
from labkit.room.asking import address, asked_for, give, no, too_many, word
from labkit.room.passes import Passes
from labkit.room.patience import Patience
from labkit.room.projecting import Projecting
from labkit.room.room import Room
from labkit.room.trainers import Trainers

_OWN: Final = Path(__file__).resolve().parent
_PROJECTOR: Final = "labkit-projector"
_PLACE: Final = "/projector"
_NO_PROJECTOR: Final = "Open this page by the link that stands on the trainer's page."


class ProjectorSide:
    """What a projector's browser asks for. Its pass opens nothing else, and no other pass opens it.

    The key is made anew each time that the room is opened, as the trainer's is.
    """

    def __init__(self, room: Room, trainers: Trainers, patience: Patience) -> None:
        self._patience = patience
        self._projecting = Projecting(room, (trainers.addresses or [""])[0])
        self.key = secrets.token_urlsafe(18)
        self._passes = Passes(self.key, "projector")
        # A picture is worked out once, however many projectors wait for it, and holds up nobody.
        self._one = CapacityLimiter(1)
        self.routes = [
            Route(_PLACE, self.page),
            Route(f"{_PLACE}/sign-in", self.sign_in, methods=["POST"]),
            Route(f"{_PLACE}/now", self.now),
        ]

    async def page(self, _: Request) -> Response:
        return file_of("projector.html", _OWN)

    async def sign_in(self, request: Request) -> Response:
        """Take the key, give a pass that is sent to the projector's own paths alone."""
        said = await asked_for(request)
        if said is None:
            return no(_NO_PROJECTOR)
        who = address(request)
        if wait := self._patience.wait(who):
            return too_many(wait)
        if not compare_digest(word(said, "key").encode("utf-8", "replace"), self.key.encode()):
            self._patience.wrong(who)
            return no(_NO_PROJECTOR)
        answer = JSONResponse({"signed_in": True})
        give(request, answer, _PROJECTOR, self._passes.made(), _PLACE)
        return answer

    def _has_pass(self, asked: HTTPConnection) -> bool:
        return self._passes.read(asked.cookies.get(_PROJECTOR)) is not None

    async def now(self, request: Request) -> Response:
        """What is to be shown now."""
        if not self._has_pass(request):
            return no(_NO_PROJECTOR)
        picture = await run_sync(self._projecting.now, limiter=self._one)
        return Response(picture, media_type="application/json")

    async def for_trainer(self) -> dict[str, Any]:
        """What the trainer's page shows of the projector."""
        return {"key": self.key, **await run_sync(self._projecting.for_trainer)}

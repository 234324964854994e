"""The first page: signing in, the classes, and the way to begin one."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from labkit.board.asked import NOT_SIGNED_IN, OWN, Asked
from labkit.classroom.class_folder import ClassFolder
from labkit.errors import LabkitError, sentences
from labkit.page.app import file_of
from labkit.room import trainer_side
from labkit.room.asking import address, asked_for, give, no, too_many, word
from labkit.room.patience import Patience


class HomeSide:
    """What a browser asks for before it is at a class."""

    def __init__(self, asked: Asked, name: str) -> None:
        self._asked, self._name = asked, name
        self._patience = Patience()
        self.routes = [
            Route("/", self.front),
            Route("/own/{file}", self.own),
            Route("/sign-in", self.sign_in, methods=["POST"]),
            Route("/signed-in", self.signed_in),
            Route("/classes", self.classes),
        ]

    async def front(self, _: Request) -> Response:
        return self._asked.page("home")

    async def own(self, request: Request) -> Response:
        """A script or a style sheet of the board's, or one of the room's that it shows too."""
        name = request.path_params["file"]
        found = file_of(name, OWN)
        return found if found.status_code == 200 else file_of(name, trainer_side.OWN)

    async def sign_in(self, request: Request) -> Response:
        """Sign in by name, with the key that stands in labkit's window."""
        said, who = await asked_for(request), address(request)
        if said is None:
            return no(NOT_SIGNED_IN)
        if wait := self._patience.wait(who):
            return too_many(wait)
        shown = self._asked.trainers.signed_in(word(said, "key"), word(said, "name"))
        if shown is None:
            self._patience.wrong(who)
            return no(NOT_SIGNED_IN)
        answer = JSONResponse({"signed_in": True})
        give(request, answer, self._asked.cookie, shown)
        return answer

    async def signed_in(self, request: Request) -> Response:
        """Who is signed in; to nobody, the name that is proposed."""
        by = self._asked.by(request)
        return JSONResponse({"trainer": by} if by else {"trainer": "", "name": self._name})

    async def classes(self, request: Request) -> Response:
        """The classes of the folder, those with mistakes too; nothing of them without a pass."""
        if self._asked.by(request) is None:
            return JSONResponse({"signed_in": False, "name": self._name})
        return await self._asked.told_all(request, self._classes)

    def _classes(self, by: str) -> dict[str, Any]:
        found = self._asked.classes
        listed = [self._listed(name) for name in found.names()]
        return {"signed_in": True, "trainer": by, "folder": str(found.path), "classes": listed}

    def _listed(self, name: str) -> dict[str, Any]:
        try:
            folder = self._asked.classes.open(name)
        except (LabkitError, OSError) as error:
            return {"name": name, "wrong": sentences(error)}
        return {"name": name, **_shown(folder)}


def _shown(folder: ClassFolder) -> dict[str, Any]:
    """A class in the list. What takes long is not asked for here."""
    fields = folder.fields
    return {
        "title": fields.title,
        "date": fields.spoken_date,
        "place": fields.place,
        "labs": len(fields.labs),
        "dealt": folder.deal_file.exists(),
        "scored": (folder.scores / "overview.html").exists(),
    }

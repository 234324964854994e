"""What a trainer's browser asks for, answered in one way: who asks, of which class, in a thread."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.requests import HTTPConnection, Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from labkit.board.classes import Classes
from labkit.board.works import Works
from labkit.classroom.class_folder import ClassFolder
from labkit.errors import LabkitError, sentences
from labkit.lab.library import lab_library
from labkit.room.asking import asked_for, no
from labkit.room.trainers import Trainers

OWN: Final = Path(__file__).resolve().parent
NOT_SIGNED_IN: Final = "Open this page by the address that labkit shows in its window."
_OF_ALL: Final = ("tokens.css", "room.css", "house.css")
_SHEET: Final = '<link rel="stylesheet" href="/own/{}">'
_PAGE: Final = """\
<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>labkit</title>
<link rel="icon" href="data:,">
{sheets}
<script type="module" src="/own/{script}_page.js"></script>
</head>
<body>
<noscript>
This page needs JavaScript: use the commands instead ('labkit --help'), or another browser.
</noscript>
</body>
</html>
"""
TellsAll = Callable[[str], dict[str, Any]]
"""What is told of no class in particular, to the trainer of that name."""
DoesForAll = Callable[[dict[str, Any], str], dict[str, Any]]
"""What is done with no class in particular, with what the page said, by that trainer."""
Tells = Callable[[ClassFolder, Mapping[str, str]], dict[str, Any]]
"""What is told of a class; the words after "?" in the address say what of it."""
Does = Callable[[ClassFolder, dict[str, Any], str], dict[str, Any]]
"""What is done with a class, with what the page said, in the name of that trainer."""


class Asked:
    """How the sides of the board answer.

    `cookie` is the name of the pass of whoever signed in, `library` where labs are that a class has
    no copy of yet.
    """

    def __init__(
        self, classes: Classes, trainers: Trainers, cookie: str, library: Path | None = None
    ) -> None:
        self.classes, self.trainers, self.cookie = classes, trainers, cookie
        self.library = library or lab_library()
        self.works = Works()

    def by(self, asked: HTTPConnection) -> str | None:
        """The trainer who asks; None for who did not sign in."""
        return self.trainers.name_of(asked.cookies.get(self.cookie))

    def page(self, name: str, *sheets: str) -> Response:
        """A page: its script, and style sheets of its own.

        It holds nothing of a class: what its script asks for then does.
        """
        links = "\n".join(_SHEET.format(sheet) for sheet in (*_OF_ALL, *sheets))
        return HTMLResponse(_PAGE.format(sheets=links, script=name))

    async def told_all(self, request: Request, work: TellsAll) -> Response:
        """Answer what is asked of no class in particular."""
        by = self.by(request)
        return no(NOT_SIGNED_IN) if by is None else await answered(lambda: work(by))

    async def done_for_all(self, request: Request, work: DoesForAll) -> Response:
        """Do what a page of this host asks for with no class in particular."""
        by, said = self.by(request), await asked_for(request)
        if by is None or said is None:
            return no(NOT_SIGNED_IN)
        return await answered(lambda: work(said, by))

    async def told(self, request: Request, work: Tells) -> Response:
        """Answer what is asked of the class that the address names."""
        if self.by(request) is None:
            return no(NOT_SIGNED_IN)
        name, words = request.path_params["name"], request.query_params
        return await answered(lambda: work(self.classes.open(name), words))

    async def done(self, request: Request, work: Does) -> Response:
        """Do what a page of this host asks for with the class that the address names."""
        by, said = self.by(request), await asked_for(request)
        if by is None or said is None:
            return no(NOT_SIGNED_IN)
        name = request.path_params["name"]
        return await answered(lambda: work(self.classes.open(name), said, by))


async def answered(work: Callable[[], dict[str, Any]]) -> Response:
    """What comes of work that waits for the disk. 503 says that the same may be asked again."""
    try:
        return JSONResponse(await run_in_threadpool(work))
    except LabkitError as error:
        return no("\n".join(sentences(error)), 409)
    except OSError as error:
        return no("\n".join(sentences(error)), 503)

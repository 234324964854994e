"""The page of a class's hand-ins: taking them in, what came, who is missing, and scoring."""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from labkit.board.asked import NOT_SIGNED_IN, Asked, answered
from labkit.board.sent_files import LONGEST_LINE, files_of, sent_in
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.handins.choosing import Notice
from labkit.classroom.handins.collecting import Collected, Several, Taken, collect, short_code
from labkit.classroom.handins.explained import explained
from labkit.classroom.handins.intake import BUNDLE_BYTES, BUNDLE_FILES
from labkit.classroom.handins.receiving import MAX_BYTES, NAMED
from labkit.classroom.handins.turnout import Turnout, handed_in, has_sign_offs
from labkit.classroom.handins.unpacking import ARCHIVE_ENDING, MOST_BYTES
from labkit.errors import LabkitError, sentences
from labkit.exchange.clock import CLOCK
from labkit.page.app import of_this_page
from labkit.room.asking import no

if TYPE_CHECKING:
    from labkit.classroom.scored.score_and_write import Stage

_LIMITS: Final = {
    "files": BUNDLE_FILES,
    "bytes": BUNDLE_BYTES,
    # One byte more than is taken: then labkit sees that it is too long, and says so.
    "file": MAX_BYTES + 1,
    "archive": MOST_BYTES + 1,
    "ending": ARCHIVE_ENDING,
    "named": NAMED,
}
"""How much a page sends in one go, and of one file at most."""
_OF_FILES: Final = ("damaged", "tampered", "foreign", "not read")
"""What is told of the very files that came; the rest is of the class, and its list tells it."""
_MOST: Final = MOST_BYTES + BUNDLE_BYTES + LONGEST_LINE + 1


class HandInsSide:
    """What the page of hand-ins asks for."""

    def __init__(self, asked: Asked) -> None:
        self._asked = asked
        self._one_at_a_time = threading.Lock()
        self.routes = [
            Route("/class/{name}/hand-ins", self.front),
            Route("/class/{name}/hand-ins/list", self.turnout),
            Route("/class/{name}/hand-ins/receive", self.receive, methods=["POST"]),
            Route("/class/{name}/hand-ins/look", self.look, methods=["POST"]),
            Route("/class/{name}/hand-ins/score", self.score, methods=["POST"]),
        ]

    async def front(self, _: Request) -> Response:
        return self._asked.page("hand_ins", "hand_ins.css")

    async def turnout(self, request: Request) -> Response:
        """Who handed in, who is missing, and what is to be told of files."""
        return await self._asked.told(request, self._turnout)

    async def receive(self, request: Request) -> Response:
        """Take in the files that the page sends, as `labkit receive` does from a stick."""
        by = self._asked.by(request)
        if by is None or not of_this_page(request):
            return no(NOT_SIGNED_IN)
        try:
            async with sent_in(request, _MOST) as body:
                name = request.path_params["name"]
                return await answered(lambda: self._receive(name, body, by))
        except ClassError as error:
            return no(str(error), 413)
        except OSError as error:
            return no("\n".join(sentences(error)), 503)

    async def look(self, request: Request) -> Response:
        """Take in what lies in the class's folder, as `labkit receive` does without a source."""
        return await self._asked.done(request, lambda folder, _, by: self._collected(folder, by))

    async def score(self, request: Request) -> Response:
        """Score the class, as `labkit score` does; how far that is tells `work`."""
        return await self._asked.done(request, self._score)

    def _turnout(self, folder: ClassFolder, _: Mapping[str, str]) -> dict[str, Any]:
        found = handed_in(folder)
        by_lab: dict[str, list[Turnout]] = {}
        for one in found.turnout:
            by_lab.setdefault(one.item.lab, []).append(one)
        return {
            "title": folder.fields.title,
            "folder": str(folder.hand_ins),
            "receipts": str(folder.path / "receipts"),
            "as_of": folder.fields.spoken(CLOCK.now()),
            "labs": [self._lab(folder, lab, rows) for lab, rows in by_lab.items()],
            "told": _told(found.notices, found.names),
            "scored": (folder.scores / "overview.html").exists(),
            "limits": _LIMITS,
            "work": self._asked.works.last(folder.path.name),
        }

    def _lab(self, folder: ClassFolder, lab: str, rows: Sequence[Turnout]) -> dict[str, Any]:
        sign_offs = False
        try:
            text = folder.lab(lab, self._asked.library, dealt=True)
            title, sign_offs = text.title, has_sign_offs(text)
        except LabkitError as error:
            title = " ".join(sentences(error))
        deadline = folder.fields.deadline_of(lab)
        return {
            "id": lab,
            "title": title,
            "sign_offs": sign_offs,
            "deadline": folder.fields.spoken(deadline) if deadline else "",
            "missing": [_person(folder, one) for one in rows if one.missing],
            "handed_in": [_person(folder, one) for one in rows if not one.missing],
        }

    def _receive(self, name: str, body: Path, by: str) -> dict[str, Any]:
        folder = self._asked.classes.open(name)
        files = files_of(body)
        return self._collected(folder, by, files) if files else {}

    def _collected(
        self, folder: ClassFolder, by: str, files: Sequence[Path] = ()
    ) -> dict[str, Any]:
        with self._one_at_a_time:
            found = collect(folder, files, by=by)
        return _came(folder, found)

    def _score(self, folder: ClassFolder, _: dict[str, Any], by: str) -> dict[str, Any]:
        from labkit.classroom.scored.score_and_write import STAGES, score_and_write

        def work(stage: Stage) -> dict[str, Any]:
            written = score_and_write(folder, stage)
            results = written.scoring.results
            return {
                "results": len(results),
                "counted": sum(one.counts for one in results),
                "waiting": written.waiting,
                "folder": str(folder.scores),
            }

        self._asked.works.begin_stages(folder.path.name, STAGES, by, work)
        return {"begun": True}


def _person(folder: ClassFolder, one: Turnout) -> dict[str, Any]:
    counts, item = one.counts, one.item
    return {
        "name": item.name,
        "id": item.trainee,
        "attempt": item.attempt,
        "came_in": one.came_in,
        "late": one.late,
        "begun": one.begun,
        "together": list(one.together),
        "in_room": counts is not None and counts.in_room,
        "received": folder.fields.spoken(counts.received_at) if counts else "",
        "made": folder.fields.spoken(counts.made_at) if counts else "",
        "code": short_code(counts.digest) if counts else "",
    }


def _came(folder: ClassFolder, found: Collected) -> dict[str, Any]:
    return {
        "new": [_taken(folder, taken) for taken in found.new],
        "known": _several(found.known),
        "others": _several(found.left_alone),
        "told": _told([one for one in found.notices if one.reason in _OF_FILES], {}),
    }


def _taken(folder: ClassFolder, taken: Taken) -> dict[str, Any]:
    return {
        "name": taken.dealt.name,
        "id": taken.dealt.trainee,
        "lab": taken.dealt.lab,
        "code": taken.code,
        "received": folder.fields.spoken(taken.received_at),
        "made": folder.fields.spoken(taken.made_at),
        "late": taken.late,
    }


def _several(files: Several) -> dict[str, Any]:
    return {"count": files.count, "names": files.names}


def _told(notices: Sequence[Notice], names: Mapping[str, str]) -> list[dict[str, Any]]:
    return [
        {
            "reason": kind.reason,
            "title": kind.title,
            "sentence": kind.sentence,
            "quiet": kind.quiet,
            "files": [
                {
                    "file": one.file,
                    "sentence": one.sentence,
                    "name": names.get(one.workbook, ""),
                }
                for one in kind.notices
            ],
        }
        for kind in explained(notices)
    ]

"""The trainer's side of a room: signing in, the room as it is now, what a trainer does in it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.requests import HTTPConnection, Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from labkit.classroom.dealt import Dealt
from labkit.errors import LabkitError, sentences
from labkit.exchange.clock import CLOCK, written
from labkit.page.app import PageHost, file_of
from labkit.room.asking import address, asked_for, give, no, number, too_many, word, words
from labkit.room.board import Board
from labkit.room.log import Projected
from labkit.room.patience import Patience
from labkit.room.projector_side import ProjectorSide
from labkit.room.results import work_out_results
from labkit.room.room import Room
from labkit.room.trainers import Trainers

OWN: Final = Path(__file__).resolve().parent
_TRAINER: Final = "labkit-trainer"
_MESSAGES_SHOWN: Final = 20
_NO_TRAINER: Final = "Open the trainer's page by the address that labkit shows in its window."


class TrainerSide:
    """What a trainer's browser asks for. Who asks is read from the pass of whoever signed in."""

    def __init__(
        self,
        room: Room,
        trainers: Trainers,
        patience: Patience,
        pages: PageHost,
        projector: ProjectorSide,
        board: Board,
    ) -> None:
        self._room, self._trainers, self._patience = room, trainers, patience
        self._pages, self._projector, self._board = pages, projector, board
        self.routes = [
            Route("/trainer", self.trainer),
            Route("/trainer/sign-in", self.sign_in, methods=["POST"]),
            Route("/trainer/now", self.now),
            Route("/trainer/do", self.do, methods=["POST"]),
        ]

    def name_of(self, asked: HTTPConnection) -> str | None:
        """The trainer who asks; None for anybody else."""
        return self._trainers.name_of(asked.cookies.get(_TRAINER))

    async def trainer(self, _: Request) -> Response:
        return file_of("trainer.html", OWN)

    async def sign_in(self, request: Request) -> Response:
        """Sign in by name, with the key that stands in labkit's window."""
        said = await asked_for(request)
        if said is None:
            return no(_NO_TRAINER)
        who = address(request)
        if wait := self._patience.wait(who):
            return too_many(wait)
        shown = self._trainers.signed_in(str(said.get("key", "")), str(said.get("name", "")))
        if shown is None:
            self._patience.wrong(who)
            return no(_NO_TRAINER)
        answer = JSONResponse({"signed_in": True})
        give(request, answer, _TRAINER, shown)
        return answer

    async def now(self, request: Request) -> Response:
        """The room as it is now."""
        name = self.name_of(request)
        if name is None:
            return no(_NO_TRAINER)
        room, second = self._room, self._room.second
        labs = [self._lab_now(name) for name in room.folder.fields.labs]
        people = [self._person_now(trainee) for trainee in room.people]
        return JSONResponse(
            {
                "class_title": room.folder.fields.title,
                "trainer": name,
                "addresses": self._trainers.addresses,
                "trouble": (second and second.trouble) or room.trouble.now,
                "second": second.now if second else None,
                "now": CLOCK.now(),
                "labs": labs,
                "people": people,
                "messages": self._messages_now(),
                "board": self._board.shown(),
                "waiting": [{"number": n, "name": who} for n, who in room.door.waiting.items()],
                "projector": await self._projector.for_trainer(),
            }
        )

    def _lab_now(self, lab: str) -> dict[str, Any]:
        end = self._room.ends(lab)
        return {
            "id": lab,
            "title": self._room.workbooks.lab(lab).title,
            "practice": self._room.practice(lab),
            "open": self._room.is_open(lab),
            "opens": self._room.opens(lab),
            "ends": written(end) if end else None,
            "paused": self._pause_now(lab),
            "released": self._room.is_released(lab),
            "pairs": [
                {"guest": guest.trainee, "names": [host.name, guest.name]}
                for guest, host in self._room.pairs.of_lab(lab)
            ],
        }

    def _pause_now(self, lab: str) -> dict[str, Any] | None:
        """The pause of a lab; with an end, `left` are the seconds that everybody has then."""
        pause, end = self._room.pause_of(lab), self._room.ends(lab)
        if pause is None:
            return None
        left = max(0, int((end - pause.since).total_seconds())) if end else None
        said = {"by": pause.by, "sentence": pause.sentence, "left": left}
        return {"since": written(pause.since), **said}

    def _messages_now(self) -> list[dict[str, Any]]:
        """The last messages, the newest first: to whom, and who has read them."""
        people = self._room.people
        return [
            {
                "number": one.number,
                "at": one.at,
                "by": one.by,
                "text": one.text,
                "to_all": "" in one.to,
                "to": one.whose(people),
                "read": [trainee for trainee in one.whose(people) if trainee in one.read],
                "taken_back": one.taken_back,
            }
            for one in reversed(self._room.told.all()[-_MESSAGES_SHOWN:])
        ]

    def _person_now(self, trainee: str) -> dict[str, Any]:
        return {
            "id": trainee,
            "name": self._room.people[trainee],
            "code": self._room.on_cards.get(trainee, ""),
            "labs": {own.lab: self._work_now(own) for own in self._room.labs_of(trainee)},
        }

    def _work_now(self, own: Dealt) -> dict[str, Any]:
        pairs = self._room.pairs
        item, partner = pairs.works_in(own), pairs.partner(own)
        workbook, receipt = self._room.workbooks.known(item), self._room.receipt(item)
        end = self._room.ends(item.lab, item.trainee)
        work = {
            "together": partner.name if partner else "",
            "pages": self._pages.pages_of(workbook.desk, own.trainee) if workbook else 0,
            "answered": None,
            "of": None,
            "last": "",
            "ends": written(end) if end else None,
            "receipt": receipt[0] if receipt else None,
        }
        if workbook:
            saved = workbook.desk.saved.values()
            work["answered"], work["of"] = sum(one["answered"] for one in saved), len(saved)
            work["last"] = max((one["at"] for one in saved), default="")
        return work

    async def do(self, request: Request) -> Response:
        """What a trainer does in the room."""
        by, said = self.name_of(request), await asked_for(request)
        if by is None or said is None:
            return no(_NO_TRAINER)
        act = self._acts.get(str(said.get("act")))
        if act is None:
            return no("That is nothing to be done here.", 400)
        try:
            await run_in_threadpool(act, said, by)
        except (LabkitError, OSError) as error:
            return no(" ".join(sentences(error)), 409)
        if said["act"] == "project":  # which is no news for trainees' pages
            return JSONResponse({"done": True})
        await self._pages.let_go()
        await self._pages.tell_all_news()
        return JSONResponse({"done": True})

    @property
    def _acts(self) -> dict[str, Callable[[dict[str, Any], str], None]]:
        room = self._room
        return {
            "open": lambda said, by: room.open_lab(word(said, "lab"), by),
            "close": lambda said, by: room.close_lab(word(said, "lab"), by),
            "end in": lambda said, by: room.end_in(word(said, "lab"), number(said, "minutes"), by),
            "give time": lambda said, by: room.give_time(
                word(said, "lab"), word(said, "trainee"), number(said, "minutes"), by
            ),
            "pause": lambda said, by: room.pause(word(said, "lab"), word(said, "sentence"), by),
            "go on": lambda said, by: room.go_on(word(said, "lab"), by),
            "send": lambda said, by: room.told.send(words(said, "to"), word(said, "text"), by),
            "take back": lambda said, by: room.told.take_back(word(said, "message"), by),
            "let in": lambda said, by: room.door.let_in(
                word(said, "number"), word(said, "trainee"), by
            ),
            "put together": lambda said, by: room.put_together(
                word(said, "lab"), word(said, "guest"), word(said, "host"), by
            ),
            "hand seen to": lambda said, by: room.hands.seen_to(word(said, "trainee"), by),
            "part": lambda said, by: room.part(word(said, "lab"), word(said, "guest"), by),
            "release": self._release,
            "project": lambda said, by: room.project(Projected.of(said), by),
            "without second": lambda _, by: room.without_second(by),
            "second again": lambda _, by: room.second_again(by),
        }

    def _release(self, said: dict[str, Any], by: str) -> None:
        lab = word(said, "lab")
        self._room.require_releasable(lab)
        # What was shut a moment ago is handed in first.
        self._room.settle()
        work_out_results(self._room.folder)
        self._room.release(lab, by)

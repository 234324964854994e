"""The trainees' side of a room: joining, the labs of whoever joined, handing in, results."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final, TypeVar
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import HTTPConnection, Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Mount, Route

from labkit.answering.warm_up import WarmUpShown
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealt import Dealt
from labkit.classroom.errors import ClassError
from labkit.exchange.clock import CLOCK, written
from labkit.front_end.written_pages import WRITTEN_POLICY
from labkit.page.app import Hand, PageHost, file_of, of_this_page
from labkit.page.desk import Desk
from labkit.room.asking import address, asked_for, give, no, too_many, word
from labkit.room.patience import Patience
from labkit.room.results import results_page, results_shown
from labkit.room.room import Room, Seat

_T = TypeVar("_T")
_OWN: Final = Path(__file__).resolve().parent
_SEAT: Final = "labkit-seat"
_ASKED: Final = "labkit-asked"
_BESIDE: Final = ("/own/raised_hand.js", "/own/warm_up.js")
"""What the room has in the head of a lab's page."""
_BENCHES_AT_ONCE: Final = 20
"""Steps at benches that are waited for: other processes play them, one after the other."""
_NO_SEAT: Final = "Join the class first."


class TraineeSide:
    """What trainees' browsers ask for. Who asks is read from the pass of their seat."""

    def __init__(self, room: Room, patience: Patience) -> None:
        self._room, self._patience = room, patience
        self.pages = PageHost(
            self._desk_of, self._now_of, self._hand_of, benches_at_once=_BENCHES_AT_ONCE
        )
        self.routes = [
            Route("/", self.front),
            Route("/own/{name}", self.own),
            Route("/seat", self.seat),
            Route("/join", self.join, methods=["POST"]),
            Route("/leave", self.leave, methods=["POST"]),
            Route("/ask", self.ask, methods=["POST"]),
            Route("/asked", self.asked, methods=["POST"]),
            Route("/warm-up/next", self.next_of_warm_up),
            Route("/read", self.read, methods=["POST"]),
            Route("/lab/{lab}/read", self.read, methods=["POST"]),
            Route("/lab/{lab}/hand-in", self.hand_in, methods=["POST"]),
            Route("/lab/{lab}/hand", self.hand, methods=["POST"]),
            Route("/lab/{lab}/results", self.results),
            Route("/lab/{lab}/marks", self.marks),
            Mount("/lab/{lab}", routes=self.pages.routes),
        ]

    def _seat(self, asked: HTTPConnection) -> Seat | None:
        return self._room.seat(asked.cookies.get(_SEAT))

    def _own(self, asked: HTTPConnection) -> Dealt | None:
        """What whoever asks was dealt of the lab."""
        seat, lab = self._seat(asked), asked.path_params["lab"]
        return self._room.workbooks.items.get((seat.trainee, lab)) if seat else None

    def _item(self, asked: HTTPConnection) -> Dealt | None:
        """The workbook in which whoever asks works: their own, or another's together with them."""
        own = self._own(asked)
        return self._room.pairs.works_in(own) if own else None

    def _hand_of(self, asked: HTTPConnection, desk: Desk) -> Hand | None:
        own, item = self._own(asked), self._item(asked)
        if own is None or item is None or item.workbook != desk.number:
            return None
        shared = self._room.pairs.partner(own) is not None
        return Hand(own.trainee, own.workbook, own.name) if shared else Hand(own.trainee)

    async def _desk_of(self, asked: HTTPConnection) -> Desk | None:
        item = self._item(asked)
        if item is None or not self._room.may_see(item):
            return None
        return (await run_in_threadpool(self._room.workbooks.opened, item)).desk

    def _now_of(self, asked: HTTPConnection) -> dict[str, Any]:
        """The clock is the room's; so is what a page is told of its lab."""
        own = self._own(asked)
        if own is None:
            return {}
        said = self._lab_for(own)
        wanted = ("shut", "paused", "receipt", "results", "together")
        now = {name: said[name] for name in wanted}
        paused = said["paused"] is not None
        at = written(self._room.clock(own.lab)) if paused else CLOCK.now()
        hand = self._room.hands.of(own.trainee)
        return {
            **now,
            "clock": {"now": at, "deadline": said["ends"], "stands": paused},
            "person": own.trainee,
            "trainee": own.name,
            "messages": self._messages_for(own.trainee),
            "beside": _BESIDE,
            "hand": {"words": hand.words} if hand else None,
        }

    def _messages_for(self, trainee: str) -> list[dict[str, str]]:
        """What the trainer wrote to one, or to all, and this one has not put away."""
        waiting = self._room.told.to(trainee)
        return [
            {"number": one.number, "at": one.at, "by": one.by, "text": one.text} for one in waiting
        ]

    async def front(self, _: Request) -> Response:
        return file_of("room.html", _OWN)

    async def own(self, request: Request) -> Response:
        """A script or a style sheet of the room's, or one of the page's that it shows too."""
        name = request.path_params["name"]
        found = file_of(name, _OWN)
        return found if found.status_code == 200 else file_of(name)

    async def seat(self, request: Request) -> Response:
        """Who sits here, and what they may work at."""
        room, seat = self._room, self._seat(request)
        said: dict[str, Any] = {"class_title": room.folder.fields.title, "name": None}
        if seat is None:
            return JSONResponse(said)
        labs = [await run_in_threadpool(self._lab_for, item) for item in room.labs_of(seat.trainee)]
        messages = self._messages_for(seat.trainee)
        name = room.people[seat.trainee]
        warm_up = await run_in_threadpool(self._warm_up, seat.trainee)
        more = {"labs": labs, "messages": messages, "warm_up": warm_up}
        return JSONResponse({**said, "name": name, **more})

    def _warm_up(self, trainee: str) -> WarmUpShown | None:
        """The morning's warm-up, as far as its labs are open."""
        room = self._room
        return room.workbooks.practice.warm_up(trainee, lambda item: not room.shut(item))

    async def next_of_warm_up(self, request: Request) -> Response:
        """To the next question of one's warm-up that is open, or to the first page."""
        seat = self._seat(request)
        shown = await run_in_threadpool(self._warm_up, seat.trainee) if seat else None
        after = request.query_params.get("lab", ""), request.query_params.get("exercise", "")
        questions = shown["questions"] if shown else []
        places = [(one["lab"], one["exercise"]) for one in questions]
        begin = places.index(after) + 1 if after in places else 0
        in_turn = [*questions[begin:], *questions[:begin]]
        found = next((one for one in in_turn if one["right"] is None), None)
        if found is None:
            return RedirectResponse("/", 303)
        lab, exercise = quote(found["lab"]), quote(found["exercise"])
        return RedirectResponse(f"/lab/{lab}/?warm-up#more:{exercise}", 303)

    def _lab_for(self, own: Dealt) -> dict[str, Any]:
        room, lab = self._room, self._room.workbooks.lab(own.lab)
        item, partner = room.pairs.works_in(own), room.pairs.partner(own)
        end, receipt = room.ends(item.lab, item.trainee), room.receipt(item)
        return {
            "id": lab.id,
            "title": lab.title,
            "minutes": lab.minutes,
            "practice": room.practice(item.lab),
            "shut": room.shut(item),
            "paused": self._paused(item),
            "may_see": room.may_see(item),
            "begun": room.workbooks.worked_at(item),
            "opens": room.opens(item.lab),
            "ends": written(end) if end else None,
            "receipt": {"code": receipt[0], "at": receipt[1]} if receipt else None,
            "results": room.is_released(item.lab),
            "together": partner.name if partner else "",
        }

    def _paused(self, item: Dealt) -> dict[str, str] | None:
        """The pause of a workbook that would be open without it."""
        pause = self._room.pause_of(item.lab)
        if pause is None or self._room.over(item):
            return None
        return {"since": written(pause.since), "sentence": pause.sentence}

    async def join(self, request: Request) -> Response:
        """Take a seat by a code; where somebody is at work on another device, after a question."""
        said = await asked_for(request)
        if said is None:
            return no(_NO_SEAT)
        who = address(request)
        if wait := self._patience.wait(who):
            return too_many(wait)
        trainee = self._room.trainee_of(str(said.get("code", "")))
        if trainee is None:
            self._patience.wrong(who)
            return no("Nobody of this class has that code. Look at your card again.", 404)
        seat = self._seat(request)
        if seat is None or seat.trainee != trainee:
            if said.get("take") is not True and self._at_work(trainee):
                name = self._room.people[trainee]
                return JSONResponse({"question": f"{name} is at work on another device."})
            return await self._seated(request, trainee)
        return JSONResponse({"joined": True})

    def _at_work(self, trainee: str) -> bool:
        return any(self.pages.pages_of(desk, trainee) for desk in self._desks(trainee))

    def _desks(self, trainee: str) -> list[Desk]:
        """The workbooks in which somebody works, as far as they are open here."""
        room = self._room
        items = (room.pairs.works_in(own) for own in room.labs_of(trainee))
        return [workbook.desk for workbook in filter(None, map(room.workbooks.known, items))]

    async def _seated(self, request: Request, trainee: str) -> Response:
        shown = await run_in_threadpool(self._room.seated, trainee, address(request))
        await self.pages.let_go()
        answer = JSONResponse({"joined": True})
        give(request, answer, _SEAT, shown)
        return answer

    async def leave(self, request: Request) -> Response:
        """Leave the seat, for somebody else at this laptop."""
        if not of_this_page(request):
            return no(_NO_SEAT)
        answer = JSONResponse({"left": True})
        answer.delete_cookie(_SEAT)
        return answer

    async def ask(self, request: Request) -> Response:
        """Ask to be let in by name."""
        said = await asked_for(request)
        if said is None:
            return no(_NO_SEAT)
        try:
            number = self._room.door.asks(str(said.get("name", "")))
        except ClassError as error:
            return no(str(error), 409)
        answer = JSONResponse({"asked": True})
        give(request, answer, _ASKED, number)
        return answer

    async def asked(self, request: Request) -> Response:
        """Whether the trainer let in who asked."""
        if not of_this_page(request):
            return no(_NO_SEAT)
        trainee = self._room.door.answer_to(request.cookies.get(_ASKED, ""))
        if trainee is None:
            return JSONResponse({"waits": True})
        if not trainee:
            return no("You were not let in. Ask your instructor.")
        return await self._seated(request, trainee)

    async def read(self, request: Request) -> Response:
        """Put a message away: it stands on none of one's pages any more."""
        seat, said = self._seat(request), await asked_for(request)
        if seat is None or said is None:
            return no(_NO_SEAT)
        if await run_in_threadpool(self._room.told.read, word(said, "message"), seat.trainee):
            for desk in self._desks(seat.trainee):
                await self.pages.tell_news(desk)
        return JSONResponse({"read": True})

    async def hand_in(self, request: Request) -> Response:
        """Hand one's workbook in: the receipt."""
        own, item = self._own(request), self._item(request)
        if own is None or item is None or not of_this_page(request):
            return no(_NO_SEAT)
        if sentence := self._room.shut(item):
            return no(sentence, 409)
        by = own.workbook if self._room.pairs.partner(own) else ""
        taken = await run_in_threadpool(self._room.hand_in, [item], by)
        if by and (workbook := self._room.workbooks.known(item)):
            # The other's page shows the receipt too.
            await self.pages.tell_news(workbook.desk)
        receipt = taken[item.workbook]
        return JSONResponse({"code": receipt.code, "at": receipt.received_at})

    async def hand(self, request: Request) -> Response:
        """Raise one's own hand, say something else with it, or take it back."""
        own, said = self._own(request), await asked_for(request)
        if own is None or said is None:
            return no(_NO_SEAT)
        hands = self._room.hands
        try:
            if said.get("up") is True:
                await run_in_threadpool(hands.goes_up, own.trainee, own.lab, word(said, "words"))
            else:
                await run_in_threadpool(hands.taken_back, own.trainee)
        except ClassError as error:
            return no(str(error), 409)
        item = self._room.pairs.works_in(own)
        if workbook := self._room.workbooks.known(item):
            # Their other windows show it too.
            await self.pages.tell_news(workbook.desk)
        hand = hands.of(own.trainee)
        return JSONResponse({"hand": {"words": hand.words} if hand else None})

    async def results(self, request: Request) -> Response:
        """One's own results on one page, to print, once they are released."""
        page = await self._released(request, results_page)
        if isinstance(page, Response):
            return page
        return HTMLResponse(page, headers={"content-security-policy": WRITTEN_POLICY})

    async def marks(self, request: Request) -> Response:
        """The same for the page that was worked on."""
        shown = await self._released(request, results_shown)
        return shown if isinstance(shown, Response) else JSONResponse(shown)

    async def _released(
        self, request: Request, of: Callable[[ClassFolder, Dealt], _T | None]
    ) -> _T | Response:
        """What `of` says of one's own workbook once its lab's results are released, or why not."""
        item = self._own(request)
        if item is None or not self._room.is_released(item.lab):
            return no("Your results are not released yet.", 404)
        found = await run_in_threadpool(of, self._room.folder, item)
        return found if found is not None else no("You handed nothing in for this lab.", 404)

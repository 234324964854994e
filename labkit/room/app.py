"""The room in a browser: joining, the labs of whoever joined, their workbooks; the trainer's page.

Whatever waits for the disk is done in threads. Every act is asked for by POST from a page of this
host; who asks is read from a pass in a cookie, never from what the page says.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Collection
from contextlib import asynccontextmanager, suppress
from ipaddress import ip_address
from pathlib import Path
from typing import Any, Final, TypeVar
from urllib.parse import urlsplit

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import HTTPConnection, Request
from starlette.responses import HTMLResponse, JSONResponse, PlainTextResponse, Response
from starlette.routing import Mount, Route
from starlette.types import ASGIApp, Receive, Scope, Send

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealt import Dealt
from labkit.classroom.errors import ClassError
from labkit.errors import LabkitError, sentences
from labkit.exchange.clock import CLOCK, written
from labkit.page.app import Hand, PageHost, WithHeaders, file_of, of_this_page, said_in
from labkit.page.desk import Desk
from labkit.room.patience import Patience
from labkit.room.results import results_page, results_shown, work_out_results
from labkit.room.room import Room, Seat
from labkit.room.trainers import Trainers

_T = TypeVar("_T")
_OWN: Final = Path(__file__).resolve().parent
_SEAT: Final = "labkit-seat"
_ASKED: Final = "labkit-asked"
_TRAINER: Final = "labkit-trainer"
_A_DAY: Final = 24 * 3600
_EVERY_S: Final = 1.0
"""Seconds between two looks at whose time is up."""
_BENCHES_AT_ONCE: Final = 20
"""Steps at benches that are waited for: other processes play them, one after the other."""
_NO_SEAT: Final = "Join the class first."
_NO_TRAINER: Final = "Open the trainer's page by the address that labkit shows in its window."
_RESULTS_POLICY: Final = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
"""A trainee's page of results holds its own style and no script."""


def room_app(room: Room, trainers: Trainers) -> ASGIApp:
    """The application that serves one room."""
    served = _Served(room, trainers)
    routes = [
        Route("/", served.front),
        Route("/own/{name}", served.own),
        Route("/seat", served.seat),
        Route("/join", served.join, methods=["POST"]),
        Route("/leave", served.leave, methods=["POST"]),
        Route("/ask", served.ask, methods=["POST"]),
        Route("/asked", served.asked, methods=["POST"]),
        Route("/lab/{lab}/hand-in", served.hand_in, methods=["POST"]),
        Route("/lab/{lab}/results", served.results),
        Route("/lab/{lab}/marks", served.marks),
        Mount("/lab/{lab}", routes=served.pages.routes),
        Route("/trainer", served.trainer),
        Route("/trainer/sign-in", served.sign_in, methods=["POST"]),
        Route("/trainer/now", served.now),
        Route("/trainer/do", served.do, methods=["POST"]),
    ]
    app = Starlette(
        routes=routes,
        lifespan=served.running,
        exception_handlers={LabkitError: served.failed, OSError: served.failed},
    )
    names = {urlsplit(address).hostname or "" for address in trainers.addresses}
    return WithHeaders(_KnownHost(app, names))


class _KnownHost:
    """Refuses pages that came here by a name of somebody else's choosing (DNS rebinding)."""

    def __init__(self, app: ASGIApp, names: Collection[str]) -> None:
        self._app, self._names = app, names

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan" or self._is_known(HTTPConnection(scope).url.hostname or ""):
            await self._app(scope, receive, send)
            return
        refused = PlainTextResponse("Open this room by its own address.", 421)
        if scope["type"] == "http":
            await refused(scope, receive, send)
        else:
            await send({"type": "websocket.close", "code": 1008})

    def _is_known(self, host: str) -> bool:
        return host in self._names or _is_an_address(host)


def _is_an_address(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        ip_address(host)
    except ValueError:
        return False
    return True


class _Served:
    def __init__(self, room: Room, trainers: Trainers) -> None:
        self._room, self._trainers = room, trainers
        self._patience = Patience()
        self.pages = PageHost(
            self._desk_of, self._now_of, self._hand_of, benches_at_once=_BENCHES_AT_ONCE
        )

    @asynccontextmanager
    async def running(self, _: Starlette) -> AsyncIterator[None]:
        """While the room is open, what is shut is handed in."""
        looking = asyncio.create_task(self._look())
        yield
        looking.cancel()
        with suppress(asyncio.CancelledError):
            await looking

    async def _look(self) -> None:
        while True:
            try:
                if await run_in_threadpool(self._room.look_again):
                    await self.pages.let_go()
                for item in await run_in_threadpool(self._room.settle):
                    if workbook := self._room.workbooks.known(item):
                        await self.pages.tell_news(workbook.desk)
            except (OSError, LabkitError) as error:
                self._room.trouble.tell(" ".join(sentences(error)))
            await asyncio.sleep(_EVERY_S)

    async def failed(self, _: Request, error: Exception) -> Response:
        """The trainer is told what is wrong; on a trainee's page it would be nobody's business."""
        self._room.trouble.tell(" ".join(sentences(error)))
        return _no("The trainer's machine could not do that. Tell your instructor.", 503)

    # Trainees

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
        wanted = ("shut", "receipt", "results", "together")
        clock = {"now": CLOCK.now(), "deadline": said["ends"]}
        now = {name: said[name] for name in wanted}
        return {**now, "clock": clock, "person": own.trainee, "trainee": own.name}

    async def front(self, _: Request) -> Response:
        return file_of("room.html", _OWN)

    async def own(self, request: Request) -> Response:
        return file_of(request.path_params["name"], _OWN)

    async def seat(self, request: Request) -> Response:
        """Who sits here, and what they may work at."""
        room, seat = self._room, self._seat(request)
        said: dict[str, Any] = {"class_title": room.folder.fields.title, "name": None}
        if seat is None:
            return JSONResponse(said)
        labs = [await run_in_threadpool(self._lab_for, item) for item in room.labs_of(seat.trainee)]
        return JSONResponse({**said, "name": room.people[seat.trainee], "labs": labs})

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
            "may_see": room.may_see(item),
            "opens": room.opens(item.lab),
            "ends": written(end) if end else None,
            "receipt": {"code": receipt[0], "at": receipt[1]} if receipt else None,
            "results": room.is_released(item.lab),
            "together": partner.name if partner else "",
        }

    async def join(self, request: Request) -> Response:
        """Take a seat by a code; where somebody is at work on another device, after a question."""
        said = await _asked_for(request)
        if said is None:
            return _no(_NO_SEAT)
        who = _address(request)
        if wait := self._patience.wait(who):
            return _too_many(wait)
        trainee = self._room.trainee_of(str(said.get("code", "")))
        if trainee is None:
            self._patience.wrong(who)
            return _no("Nobody of this class has that code. Look at your card again.", 404)
        seat = self._seat(request)
        if seat is None or seat.trainee != trainee:
            if said.get("take") is not True and self._at_work(trainee):
                name = self._room.people[trainee]
                return JSONResponse({"question": f"{name} is at work on another device."})
            return await self._seated(request, trainee)
        return JSONResponse({"joined": True})

    def _at_work(self, trainee: str) -> bool:
        room = self._room
        items = (room.pairs.works_in(own) for own in room.labs_of(trainee))
        known = filter(None, map(room.workbooks.known, items))
        return any(self.pages.pages_of(workbook.desk, trainee) for workbook in known)

    async def _seated(self, request: Request, trainee: str) -> Response:
        shown = await run_in_threadpool(self._room.seated, trainee, _address(request))
        await self.pages.let_go()
        answer = JSONResponse({"joined": True})
        _give(request, answer, _SEAT, shown)
        return answer

    async def leave(self, request: Request) -> Response:
        """Leave the seat, for somebody else at this laptop."""
        if not of_this_page(request):
            return _no(_NO_SEAT)
        answer = JSONResponse({"left": True})
        answer.delete_cookie(_SEAT)
        return answer

    async def ask(self, request: Request) -> Response:
        """Ask to be let in by name."""
        said = await _asked_for(request)
        if said is None:
            return _no(_NO_SEAT)
        try:
            number = self._room.asks(str(said.get("name", "")))
        except ClassError as error:
            return _no(str(error), 409)
        answer = JSONResponse({"asked": True})
        _give(request, answer, _ASKED, number)
        return answer

    async def asked(self, request: Request) -> Response:
        """Whether the trainer let in who asked."""
        if not of_this_page(request):
            return _no(_NO_SEAT)
        trainee = self._room.answer_to(request.cookies.get(_ASKED, ""))
        if trainee is None:
            return JSONResponse({"waits": True})
        if not trainee:
            return _no("You were not let in. Ask your instructor.")
        return await self._seated(request, trainee)

    async def hand_in(self, request: Request) -> Response:
        """Hand one's workbook in: the receipt."""
        own, item = self._own(request), self._item(request)
        if own is None or item is None or not of_this_page(request):
            return _no(_NO_SEAT)
        if sentence := self._room.shut(item):
            return _no(sentence, 409)
        by = own.workbook if self._room.pairs.partner(own) else ""
        taken = await run_in_threadpool(self._room.hand_in, [item], by)
        if by and (workbook := self._room.workbooks.known(item)):
            # The other's page shows the receipt too.
            await self.pages.tell_news(workbook.desk)
        receipt = taken[item.workbook]
        return JSONResponse({"code": receipt.code, "at": receipt.received_at})

    async def results(self, request: Request) -> Response:
        """One's own results on one page, to print, once they are released."""
        page = await self._released(request, results_page)
        if isinstance(page, Response):
            return page
        return HTMLResponse(page, headers={"content-security-policy": _RESULTS_POLICY})

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
            return _no("Your results are not released yet.", 404)
        found = await run_in_threadpool(of, self._room.folder, item)
        return found if found is not None else _no("You handed nothing in for this lab.", 404)

    # The trainer

    def _trainer(self, asked: HTTPConnection) -> str | None:
        return self._trainers.name_of(asked.cookies.get(_TRAINER))

    async def trainer(self, _: Request) -> Response:
        return file_of("trainer.html", _OWN)

    async def sign_in(self, request: Request) -> Response:
        """Sign in by name, with the key that stands in labkit's window."""
        said = await _asked_for(request)
        if said is None:
            return _no(_NO_TRAINER)
        who = _address(request)
        if wait := self._patience.wait(who):
            return _too_many(wait)
        shown = self._trainers.signed_in(str(said.get("key", "")), str(said.get("name", "")))
        if shown is None:
            self._patience.wrong(who)
            return _no(_NO_TRAINER)
        answer = JSONResponse({"signed_in": True})
        _give(request, answer, _TRAINER, shown)
        return answer

    async def now(self, request: Request) -> Response:
        """The room as it is now."""
        name = self._trainer(request)
        if name is None:
            return _no(_NO_TRAINER)
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
                "waiting": [{"number": n, "name": who} for n, who in room.waiting.items()],
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
            "released": self._room.is_released(lab),
            "pairs": [
                {"guest": guest.trainee, "names": [host.name, guest.name]}
                for guest, host in self._room.pairs.of_lab(lab)
            ],
        }

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
            "pages": self.pages.pages_of(workbook.desk, own.trainee) if workbook else 0,
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
        by, said = self._trainer(request), await _asked_for(request)
        if by is None or said is None:
            return _no(_NO_TRAINER)
        act = self._acts.get(str(said.get("act")))
        if act is None:
            return _no("That is nothing to be done here.", 400)
        try:
            await run_in_threadpool(act, said, by)
        except (LabkitError, OSError) as error:
            return _no(" ".join(sentences(error)), 409)
        await self.pages.let_go()
        await self.pages.tell_all_news()
        return JSONResponse({"done": True})

    @property
    def _acts(self) -> dict[str, Callable[[dict[str, Any], str], None]]:
        room = self._room
        return {
            "open": lambda said, by: room.open_lab(_word(said, "lab"), by),
            "close": lambda said, by: room.close_lab(_word(said, "lab"), by),
            "end in": lambda said, by: room.end_in(_word(said, "lab"), _number(said), by),
            "give time": lambda said, by: room.give_time(
                _word(said, "lab"), _word(said, "trainee"), _number(said), by
            ),
            "let in": lambda said, by: room.let_in(
                _word(said, "number"), _word(said, "trainee"), by
            ),
            "put together": lambda said, by: room.put_together(
                _word(said, "lab"), _word(said, "guest"), _word(said, "host"), by
            ),
            "part": lambda said, by: room.part(_word(said, "lab"), _word(said, "guest"), by),
            "release": self._release,
            "without second": lambda _, by: room.without_second(by),
            "second again": lambda _, by: room.second_again(by),
        }

    def _release(self, said: dict[str, Any], by: str) -> None:
        lab = _word(said, "lab")
        self._room.require_releasable(lab)
        # What was shut a moment ago is handed in first.
        self._room.settle()
        work_out_results(self._room.folder)
        self._room.release(lab, by)


async def _asked_for(request: Request) -> dict[str, Any] | None:
    """What a page of this host asks for; None for what came from elsewhere, or is no such thing."""
    said = await said_in(request)
    return said if of_this_page(request) and isinstance(said, dict) else None


def _word(said: dict[str, Any], name: str) -> str:
    word = said.get(name, "")
    return word if isinstance(word, str) else ""


def _number(said: dict[str, Any]) -> int:
    number = said.get("minutes")
    return number if isinstance(number, int) and not isinstance(number, bool) else 0


def _no(sentence: str, status: int = 403) -> Response:
    return PlainTextResponse(sentence, status)


def _too_many(wait: float) -> Response:
    return _no(f"Too many wrong tries: wait {round(wait + 0.5)} seconds.", 429)


def _address(asked: HTTPConnection) -> str:
    return asked.client.host if asked.client else ""


def _give(request: Request, answer: Response, name: str, shown: str) -> None:
    """A pass for this browser alone; over plain http no browser keeps a Secure cookie."""
    secure = request.url.scheme == "https"
    answer.set_cookie(name, shown, max_age=_A_DAY, secure=secure, httponly=True, samesite="strict")

"""The people of a class: who they are and what they were dealt, late ones, retakes, another id, and
what is printed for them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from labkit.board.asked import NOT_SIGNED_IN, Asked
from labkit.board.held_rooms import HeldRooms
from labkit.board.lab_titles import title_of
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.dealing.deal_summary import deal_summary
from labkit.classroom.dealing.open_texts import remarks_on_secrecy
from labkit.classroom.dealing.roster_changes import gone_from_roster
from labkit.classroom.dealt import Deal
from labkit.classroom.errors import ClassError
from labkit.classroom.exports.cards import print_cards, room_address
from labkit.classroom.exports.pdf import find_browser, write_pdfs
from labkit.classroom.exports.printing import (
    PAPERS,
    on_paper,
    own_handouts,
    paper_bytes,
    print_class,
)
from labkit.classroom.handins.retaking import (
    folders_of_retakes,
    plan_digest,
    planned_retakes,
    retake,
)
from labkit.classroom.people.late import add_late, roster_seen
from labkit.classroom.people.same_person import change_id, planned_change
from labkit.classroom.progress import Progress
from labkit.classroom.records.acts import note
from labkit.classroom.roster import Trainee
from labkit.classroom.roster_lines import columns_of
from labkit.classroom.roster_table import roster_bytes
from labkit.errors import LabkitError, sentences
from labkit.front_end.written_pages import WRITTEN_POLICY
from labkit.room.asking import no, word, words
from labkit.room.hosting import PORT
from labkit.room.way import opened_address, ways
from labkit.workbook.handout import PageSize


class PeopleSide:
    """What the page of a class's people asks for."""

    def __init__(self, asked: Asked, rooms: HeldRooms) -> None:
        self._asked, self._rooms = asked, rooms
        below = "/class/{name}/people"
        self.routes = [
            Route(below, self.front),
            Route(f"{below}/list", self.everybody),
            Route(f"{below}/add", self.add, methods=["POST"]),
            Route(f"{below}/look-at-retake", self.look_at_retake, methods=["POST"]),
            Route(f"{below}/retake", self.retake, methods=["POST"]),
            Route(f"{below}/look-at-id", self.look_at_id, methods=["POST"]),
            Route(f"{below}/id", self.id, methods=["POST"]),
            Route(f"{below}/print", self.print, methods=["POST"]),
            Route(f"{below}/pdf", self.pdf, methods=["POST"]),
            Route(f"{below}/paper/{{file:path}}", self.paper),
        ]

    async def front(self, _: Request) -> Response:
        return self._asked.page("people", "people.css")

    async def everybody(self, request: Request) -> Response:
        """Everybody in the class, and what was printed for them."""
        return await self._asked.told(request, self._list)

    async def add(self, request: Request) -> Response:
        """Write somebody who comes late into the roster."""
        return await self._asked.done(request, _add)

    async def look_at_retake(self, request: Request) -> Response:
        """What a retake would deal; nothing is dealt."""
        return await self._asked.done(request, _look_at_retake)

    async def retake(self, request: Request) -> Response:
        """Deal the retake that was looked at."""
        return await self._asked.done(request, self._retake)

    async def look_at_id(self, request: Request) -> Response:
        """What another id would change; nothing is changed."""
        return await self._asked.done(request, _look_at_id)

    async def id(self, request: Request) -> Response:
        """Give somebody the id that was looked at."""
        return await self._asked.done(request, self._id)

    async def print(self, request: Request) -> Response:
        """Write cards or handouts."""
        return await self._asked.done(request, self._print)

    async def pdf(self, request: Request) -> Response:
        """Make PDF files of the cards or handouts that were written."""
        return await self._asked.done(request, self._pdf)

    async def paper(self, request: Request) -> Response:
        """A page or PDF that was printed."""
        if self._asked.by(request) is None:
            return no(NOT_SIGNED_IN)
        name, file = request.path_params["name"], request.path_params["file"]
        try:
            data = await run_in_threadpool(
                lambda: paper_bytes(self._asked.classes.open(name), file)
            )
        except LabkitError as error:
            return no("\n".join(sentences(error)), 404)
        kind = "application/pdf" if file.endswith(".pdf") else "text/html"
        return Response(data, media_type=kind, headers={"content-security-policy": WRITTEN_POLICY})

    def _list(self, folder: ClassFolder, _: Mapping[str, str]) -> dict[str, Any]:
        fields, deal = folder.fields, read_deal(folder)
        present, roster = _roster(folder)
        return {
            "title": fields.title,
            "labs": [
                {"id": lab, "title": title_of(folder, lab, self._asked.library)}
                for lab in fields.labs
            ],
            "attempts": fields.attempts,
            "attempts_count": fields.attempts_count,
            **roster,
            "people": _listed(folder, present, deal),
            "gone": [
                {
                    "id": one.id,
                    "name": one.name,
                    "again": one.again and {"id": one.again.id, "name": one.again.name},
                }
                for one in gone_from_roster(folder, deal)
            ],
            "paper": [
                {"name": one.name, "written": one.written.isoformat(), "pdf": one.pdf}
                for one in on_paper(folder)
            ],
            "addresses": self._addresses(folder),
            "can_pdf": find_browser() is not None,
            "work": self._asked.works.last(folder.path.name),
        }

    def _addresses(self, folder: ClassFolder) -> list[dict[str, object]]:
        """Where the room is, or would be opened: what a card may say."""
        room = self._rooms.of(folder)
        if room:
            return [{"address": room["address"], "words": "the room is open there"}]
        return [
            {"address": opened_address(way.address, PORT), "words": way.words}
            for way in ways()
            if not way.loopback
        ]

    def _retake(self, folder: ClassFolder, said: dict[str, Any], by: str) -> dict[str, Any]:
        who, lab, seen = words(said, "who"), word(said, "lab") or None, word(said, "seen")

        def work(progress: Progress) -> dict[str, Any]:
            result = retake(folder, self._asked.library, who, lab, progress, seen=seen)
            note(folder, f"Retakes dealt: {result.new}.", by)
            folder.open_for_hand_ins()
            homes = folders_of_retakes(folder, result.deal, who)
            return {
                "said": f"{result.new} dealt.",
                "lines": [f"Give out {home}." for home in homes],
                "more": [
                    *deal_summary(result.deal),
                    *remarks_on_secrecy(folder, result.deal, self._asked.library),
                ],
            }

        self._asked.works.begin(folder.path.name, "Dealing retakes", by, work)
        return {"begun": True}

    def _id(self, folder: ClassFolder, said: dict[str, Any], by: str) -> dict[str, Any]:
        old, new = word(said, "old"), word(said, "new").strip()
        reason, seen = word(said, "reason"), word(said, "seen")

        def work(_: Progress) -> dict[str, Any]:
            done = change_id(folder, old, new, reason=reason, by=by, seen=seen)
            scored = (folder.scores / "overview.html").exists()
            again = ["Score the class again: pages with the old id are gone."] if scored else []
            return {"said": f"{done.name} has the id {new} now, before {old}.", "lines": again}

        # One at a time with dealing: both write what was dealt.
        self._asked.works.begin(folder.path.name, "Changing an id", by, work)
        return {"begun": True}

    def _print(self, folder: ClassFolder, said: dict[str, Any], by: str) -> dict[str, Any]:
        what, size = _what(said), _size(said)
        address = word(said, "address").strip() or None
        if address:
            address = room_address(address)

        def work(progress: Progress) -> dict[str, Any]:
            if what == "cards":
                print_cards(folder, address, size=size)
            else:
                print_class(folder, size=size, progress=progress)
            return {"printed": what}

        self._asked.works.begin(folder.path.name, f"Writing {what}", by, work)
        return {"begun": True}

    def _pdf(self, folder: ClassFolder, said: dict[str, Any], by: str) -> dict[str, Any]:
        what, browser = _what(said), find_browser()
        pages = [folder.path / "print" / f"{stem}.html" for stem in PAPERS[what]]
        if browser is None:
            raise ClassError(
                "No Chromium was found for PDF: open the page and print it from there."
            )
        if not all(page.is_file() for page in pages):
            raise ClassError(f"There are no {what} yet: print them first.")

        def work(progress: Progress) -> dict[str, Any]:
            # In bytes it would be told, which nobody wants to read.
            write_pdfs(browser, pages, lambda done, of: progress(round(100 * done / of), 100))
            return {"pdf": what}

        self._asked.works.begin(folder.path.name, f"Making PDF of {what}", by, work)
        return {"begun": True}


def _roster(folder: ClassFolder) -> tuple[tuple[Trainee, ...], dict[str, Any]]:
    """Who is in the roster, and what the page must know of it; or what is wrong with it."""
    try:
        file, encoding = folder.roster_file, folder.fields.roster_encoding
        seen, columns = roster_seen(folder), columns_of(file.name, roster_bytes(file), encoding)
        return folder.trainees, {
            "roster": file.name,
            "seen": seen,
            "columns": columns,
            "wrong": [],
        }
    except (LabkitError, OSError) as error:
        return (), {"roster": "", "seen": "", "columns": [], "wrong": sentences(error)}


def _listed(folder: ClassFolder, present: tuple[Trainee, ...], deal: Deal) -> list[dict[str, Any]]:
    """Everybody of the roster, and their last attempt at each lab; 0 where it is not dealt."""
    last: defaultdict[tuple[str, str], int] = defaultdict(int)
    for item in deal.dealt:
        key = item.trainee, item.lab
        last[key] = max(last[key], item.attempt)
    papers = own_handouts(folder)
    return [
        {
            "id": person.id,
            "name": person.name,
            "bench": person.bench,
            "seat": person.seat,
            "dealt": [last.get((person.id, lab), 0) for lab in folder.fields.labs],
            "handout": f"handouts/{person.id}.html" in papers,
        }
        for person in present
    ]


def _add(folder: ClassFolder, said: dict[str, Any], by: str) -> dict[str, Any]:
    given = said.get("cells")
    cells = given if isinstance(given, dict) else {}
    texts = {str(column): text for column, text in cells.items() if isinstance(text, str)}
    if not any(texts.get(column, "").strip() for column in ("name", "first name", "last name")):
        raise ClassError("Write the name too: marks and pages are told by it.")
    person = add_late(folder, texts, word(said, "seen"), by=by)
    return {"id": person.id, "name": person.name}


def _look_at_retake(folder: ClassFolder, said: dict[str, Any], _: str) -> dict[str, Any]:
    plan = planned_retakes(folder, words(said, "who"), word(said, "lab") or None)
    shown = [
        {
            "id": one.trainee,
            "name": one.name,
            "lab": one.lab,
            "attempt": one.attempt,
            "made": one.made,
            "hinders": one.hinders,
        }
        for one in plan
    ]
    return {"plan": shown, "seen": plan_digest(plan)}


def _look_at_id(folder: ClassFolder, said: dict[str, Any], _: str) -> dict[str, Any]:
    change = planned_change(folder, word(said, "old"), word(said, "new").strip())
    return {
        "name": change.name,
        "in_roster": change.in_roster,
        "roster": folder.roster_file.name,
        "workbooks": [
            {"lab": item.lab, "attempt": item.attempt, "dealt_to": item.origin[0]}
            for item in change.workbooks
        ],
        "seen": change.seen,
    }


def _what(said: dict[str, Any]) -> str:
    what = word(said, "what")
    if what not in PAPERS:
        raise ClassError("Say what to print: cards or handouts.")
    return what


def _size(said: dict[str, Any]) -> PageSize:
    return PageSize.letter if word(said, "paper") == PageSize.letter.value else PageSize.a4

"""The debrief of a class: what scoring wrote last, what came in since, the test after."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from labkit.board.asked import NOT_SIGNED_IN, Asked
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.handins.arrivals import Arrivals
from labkit.classroom.handins.before_and_after import Twice, deal_after, twice_dealt
from labkit.classroom.handins.settling import prepared
from labkit.classroom.pages.debrief import read_debrief, which_counts
from labkit.classroom.pages.gains import GAIN_PAGE
from labkit.classroom.progress import Progress
from labkit.classroom.records.acts import note
from labkit.classroom.records.store import Records
from labkit.errors import LabkitError, sentences
from labkit.front_end.written_pages import WRITTEN_POLICY
from labkit.room.asking import no, number, word

_PAGES: Final = ("debrief.html", "analysis.html", GAIN_PAGE)


class DebriefSide:
    """What the debrief's page asks for."""

    def __init__(self, asked: Asked) -> None:
        self._asked = asked
        self.routes = [
            Route("/class/{name}/debrief", self.front),
            Route("/class/{name}/debrief/now", self.now),
            Route("/class/{name}/debrief/since", self.since),
            Route("/class/{name}/debrief/deal-after", self.deal_after, methods=["POST"]),
            Route("/class/{name}/debrief/{page}", self.written),
        ]

    async def front(self, _: Request) -> Response:
        return self._asked.page("debrief", "debrief_page.css")

    async def now(self, request: Request) -> Response:
        """What scoring wrote last, and how far a test before and after is."""
        return await self._asked.told(request, self._now)

    async def since(self, request: Request) -> Response:
        """What came in, and whether marks changed, since it was scored."""
        return await self._asked.told(request, _since)

    async def deal_after(self, request: Request) -> Response:
        """Deal the test after to everybody who has none yet."""
        return await self._asked.done(request, self._deal_after)

    async def written(self, request: Request) -> Response:
        """A page that scoring wrote, to print or to read closer."""
        if self._asked.by(request) is None:
            return no(NOT_SIGNED_IN)
        name, page = request.path_params["name"], request.path_params["page"]
        text = await run_in_threadpool(self._text, name, page)
        if isinstance(text, Response):
            return text
        return HTMLResponse(text, headers={"content-security-policy": WRITTEN_POLICY})

    def _text(self, name: str, page: str) -> str | Response:
        if page not in _PAGES:
            return no("There is nothing here.", 404)
        try:
            folder = self._asked.classes.open(name)
            return (folder.scores / page).read_text("utf-8")
        except FileNotFoundError:
            return no("This page is not written yet: score the class first.", 404)
        except (LabkitError, OSError) as error:
            return no("\n".join(sentences(error)), 409)

    def _now(self, folder: ClassFolder, _: Mapping[str, str]) -> dict[str, Any]:
        fields, found = folder.fields, read_debrief(folder)
        return {
            "title": fields.title,
            "dealt": folder.deal_file.exists(),
            "debrief": found,
            "scored": _spoken(folder, found["scored_at"]) if found else "",
            "pages": [page for page in _PAGES if (folder.scores / page).exists()],
            "tests": [self._test(folder, lab) for lab in fields.tests],
            "counts": which_counts(fields),
            "work": self._asked.works.last(folder.path.name),
        }

    def _test(self, folder: ClassFolder, lab: str) -> dict[str, Any]:
        """How far a lab is that is dealt twice; `wrong` says why nobody can tell."""
        try:
            title = folder.lab(lab, self._asked.library, dealt=True).title
            far = twice_dealt(folder, lab)
        except LabkitError as error:
            return {"lab": lab, "title": lab, "wrong": sentences(error)}
        return {"lab": lab, "title": title, "wrong": [], **_far(far)}

    def _deal_after(self, folder: ClassFolder, said: dict[str, Any], by: str) -> dict[str, Any]:
        lab = word(said, "lab")
        left = len(twice_dealt(folder, lab).left) if lab in folder.fields.tests else 0
        if left != number(said, "people"):
            raise ClassError(
                f"Meanwhile it is {left} who have no test after yet. Look again, then deal it."
            )

        def work(progress: Progress) -> dict[str, Any]:
            result = deal_after(folder, self._asked.library, lab, progress)
            note(folder, f"Workbooks dealt for the test after: {result.new}.", by)
            folder.open_for_hand_ins()
            return {"new": result.new}

        self._asked.works.begin(folder.path.name, "Dealing the test after", by, work)
        return {"begun": True}


def _far(far: Twice) -> dict[str, Any]:
    return {"dealt": far.dealt, "left": len(far.left), "without": far.without}


def _spoken(folder: ClassFolder, moment: str) -> str:
    try:
        return folder.fields.spoken(moment)
    except ValueError:
        return moment


def _since(folder: ClassFolder, _: Mapping[str, str]) -> dict[str, Any]:
    found = read_debrief(folder)
    if not folder.deal_file.exists() or (found is None and not folder.has_records):
        return {"new": 0, "changed": False}
    records = Records.of(folder)
    arrivals = Arrivals.of(prepared(folder, records), records)
    waiting = sum(map(len, arrivals.wait.values()))
    changed = found is not None and records.code() != found["code"]
    return {"new": waiting, "changed": changed}

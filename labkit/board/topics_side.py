"""Topics by people, of one class: what sits with whom, and what is still practised."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from labkit.answering.topics import RUNNING, Standing
from labkit.board.asked import Asked
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.marks.by_topic import PersonByTopic, by_topic
from labkit.classroom.progress import Progress


class TopicsSide:
    """What the page of topics asks for. Reading all journals takes a while, so it is work."""

    def __init__(self, asked: Asked) -> None:
        self._asked = asked
        self.routes = [
            Route("/class/{name}/topics", self.front),
            Route("/class/{name}/topics/now", self.now),
            Route("/class/{name}/topics/look", self.look, methods=["POST"]),
            Route("/class/{name}/topics/work", self.work),
        ]

    async def front(self, _: Request) -> Response:
        return self._asked.page("topics", "topics.css")

    async def now(self, request: Request) -> Response:
        """Whether there is anything to look at."""
        return await self._asked.told(request, _now)

    async def look(self, request: Request) -> Response:
        """Read all journals; how far that is, and what they say, tells `work`."""
        return await self._asked.done(request, self._look)

    async def work(self, request: Request) -> Response:
        """How far the reading is."""
        return await self._asked.told(request, self._work)

    def _look(self, folder: ClassFolder, _: dict[str, Any], by: str) -> dict[str, Any]:
        def read(progress: Progress) -> dict[str, Any]:
            return _told(folder, progress)

        self._asked.works.begin(_name(folder), "Reading what was practised", by, read)
        return {"begun": True}

    def _work(self, folder: ClassFolder, _: Mapping[str, str]) -> dict[str, Any]:
        return {"work": self._asked.works.last(_name(folder))}


def _name(folder: ClassFolder) -> str:
    """The name under which this goes: it changes nothing, so other work need not wait for it."""
    return f"{folder.path.name}/topics"


def _now(folder: ClassFolder, _: Mapping[str, str]) -> dict[str, Any]:
    return {"title": folder.fields.title, "dealt": folder.deal_file.exists()}


def _told(folder: ClassFolder, progress: Progress) -> dict[str, Any]:
    found = by_topic(folder, progress)
    return {
        "running": RUNNING,
        "topics": list(found.topics),
        "people": [_person(one) for one in found.people],
        "without": list(found.without),
    }


def _person(one: PersonByTopic) -> dict[str, Any]:
    topics = {topic: _standing(now) for topic, now in one.standings.items()}
    return {"id": one.id, "name": one.name, "topics": topics}


def _standing(now: Standing) -> dict[str, Any]:
    return {
        "tried": now.tried,
        "running": min(now.running, RUNNING),
        "another_day": now.on_another_day,
        "since": now.since.isoformat() if now.since else "",
    }

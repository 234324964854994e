"""The board's pages as one application: what all of them ask of a class stands in a side each."""

from __future__ import annotations

from typing import Protocol

from starlette.applications import Starlette
from starlette.routing import Route
from starlette.types import ASGIApp

from labkit.board.asked import Asked
from labkit.board.begin_side import BeginSide
from labkit.board.class_side import ClassSide
from labkit.board.close_side import CloseSide
from labkit.board.debrief_side import DebriefSide
from labkit.board.handins_side import HandInsSide
from labkit.board.held_rooms import HeldRooms
from labkit.board.home_side import HomeSide
from labkit.board.marks_side import MarksSide
from labkit.board.people_side import PeopleSide
from labkit.board.topics_side import TopicsSide
from labkit.board.year_side import YearSide
from labkit.page.app import WithHeaders
from labkit.page.known_host import KnownHost


class Side(Protocol):
    """What a page asks for: routes, each answered by `Asked`."""

    @property
    def routes(self) -> list[Route]: ...


def board_app(asked: Asked, rooms: HeldRooms, name: str = "") -> ASGIApp:
    """The application that serves a folder of classes. `name` is proposed to who signs in."""
    sides: list[Side] = [
        HomeSide(asked, name),
        YearSide(asked),
        BeginSide(asked),
        ClassSide(asked, rooms),
        PeopleSide(asked, rooms),
        HandInsSide(asked),
        MarksSide(asked),
        TopicsSide(asked),
        DebriefSide(asked),
        CloseSide(asked),
    ]
    app = Starlette(routes=[route for side in sides for route in side.routes])
    return WithHeaders(KnownHost(app))

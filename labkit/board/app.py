"""The board's pages as one application: what all of them ask of a class stands in a side each."""

from __future__ import annotations

from starlette.applications import Starlette
from starlette.types import ASGIApp

from labkit.board.asked import Asked
from labkit.board.begin_side import BeginSide
from labkit.board.class_side import ClassSide
from labkit.board.debrief_side import DebriefSide
from labkit.board.handins_side import HandInsSide
from labkit.board.held_rooms import HeldRooms
from labkit.board.home_side import HomeSide
from labkit.board.marks_side import MarksSide
from labkit.board.people_side import PeopleSide
from labkit.page.app import WithHeaders
from labkit.room.known_host import KnownHost


def board_app(asked: Asked, rooms: HeldRooms, name: str = "") -> ASGIApp:
    """The application that serves a folder of classes. `name` is proposed to who signs in."""
    home, of_class = HomeSide(asked, name), ClassSide(asked, rooms)
    app = Starlette(routes=[*home.routes, *BeginSide(asked).routes, *of_class.routes])
    people = PeopleSide(asked, rooms)
    app = Starlette(routes=[*home.routes, *of_class.routes, *people.routes])
    hand_ins = HandInsSide(asked)
    app = Starlette(routes=[*home.routes, *of_class.routes, *hand_ins.routes])
    app = Starlette(routes=[*home.routes, *of_class.routes, *MarksSide(asked).routes])
    debrief = DebriefSide(asked)
    app = Starlette(routes=[*home.routes, *of_class.routes, *debrief.routes])
    return WithHeaders(KnownHost(app))

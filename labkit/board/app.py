"""The board's pages as one application: what all of them ask of a class stands in a side each."""

from __future__ import annotations

from starlette.applications import Starlette
from starlette.types import ASGIApp

from labkit.board.asked import Asked
from labkit.board.class_side import ClassSide
from labkit.board.held_rooms import HeldRooms
from labkit.board.home_side import HomeSide
from labkit.board.year_side import YearSide
from labkit.page.app import WithHeaders
from labkit.room.known_host import KnownHost


def board_app(asked: Asked, rooms: HeldRooms, name: str = "") -> ASGIApp:
    """The application that serves a folder of classes. `name` is proposed to who signs in."""
    home, of_class, year = HomeSide(asked, name), ClassSide(asked, rooms), YearSide(asked)
    app = Starlette(routes=[*home.routes, *of_class.routes, *year.routes])
    return WithHeaders(KnownHost(app))

"""The board's pages as one application: what all of them ask of a class stands in a side each."""

from __future__ import annotations

from starlette.applications import Starlette
from starlette.types import ASGIApp

from labkit.board.asked import Asked
from labkit.board.class_side import ClassSide
from labkit.board.close_side import CloseSide
from labkit.board.held_rooms import HeldRooms
from labkit.board.home_side import HomeSide
from labkit.page.app import WithHeaders
from labkit.room.known_host import KnownHost


def board_app(asked: Asked, rooms: HeldRooms, name: str = "") -> ASGIApp:
    """The application that serves a folder of classes. `name` is proposed to who signs in."""
    home, of_class = HomeSide(asked, name), ClassSide(asked, rooms)
    app = Starlette(routes=[*home.routes, *of_class.routes, *CloseSide(asked).routes])
    return WithHeaders(KnownHost(app))

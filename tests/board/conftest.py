"""The board over a folder with one small class, which is not dealt yet."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing

import pytest
from board_browser import AtBoard, BoardBrowser
from tiny_class import MakeRoom
from tiny_class import Room as Class

from labkit.board.app import board_app
from labkit.board.asked import Asked
from labkit.board.classes import Classes
from labkit.board.held_rooms import HeldRooms
from labkit.room.trainers import Trainers


@pytest.fixture
def a_class(make_room: MakeRoom) -> Class:
    """A practice class of three in the folder `class`, not dealt."""
    return make_room()


@pytest.fixture
def asked(a_class: Class) -> Asked:
    return Asked(Classes(a_class.path.parent), Trainers(), "labkit-board-test", a_class.library)


@pytest.fixture
def rooms() -> Iterator[HeldRooms]:
    with closing(HeldRooms()) as held:
        yield held


@pytest.fixture
def at_board(asked: Asked, rooms: HeldRooms) -> AtBoard:
    """A browser that is not signed in yet."""
    return lambda: BoardBrowser(board_app(asked, rooms, "mira"))


@pytest.fixture
def board(at_board: AtBoard, asked: Asked) -> BoardBrowser:
    """A browser whose trainer is signed in as Mira."""
    return at_board().signed_in(asked)

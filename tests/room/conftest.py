"""A small class that is dealt, and its room."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from anyio.from_thread import start_blocking_portal
from in_a_browser import HERE, Browser, Open
from tiny_class import MakeRoom
from tiny_class import Room as Class

from labkit.room.app import room_app
from labkit.room.room import Room
from labkit.room.trainers import Trainers


@pytest.fixture(scope="session", autouse=True)
def one_loop() -> Iterator[None]:
    """One loop for all browsers."""
    with start_blocking_portal() as Browser.loop:
        yield
    Browser.loop = None


@pytest.fixture
def make_class(make_room: MakeRoom) -> MakeRoom:
    """Make and deal a class of three, with the fields that `class.yaml` is to have."""

    def make(**fields: str) -> Class:
        made = make_room(**fields)
        made.deal()
        return made

    return make


@pytest.fixture
def in_class(make_class: MakeRoom) -> Class:
    """A practice class."""
    return make_class()


@pytest.fixture
def room(in_class: Class) -> Room:
    """The room of a practice class."""
    return Room(in_class.folder)


@pytest.fixture
def trainers() -> Trainers:
    return Trainers([HERE])


@pytest.fixture
def app(room: Room, trainers: Trainers) -> Any:
    return room_app(room, trainers)


@pytest.fixture
def browser(app: Any) -> Open:
    return lambda *args: Browser(app, *args)

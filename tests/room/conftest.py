"""A small class that is dealt, and its room."""

from __future__ import annotations

import pytest
from tiny_class import MakeRoom
from tiny_class import Room as Class

from labkit.room.room import Room


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

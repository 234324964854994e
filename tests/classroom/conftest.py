"""A class of the small lab, in a fresh folder."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest
from fair_class import FAIR_LAB, FairRoom, MakeFairRoom
from tiny_class import MakeRoom, Room


@pytest.fixture
def room(make_room: MakeRoom) -> Room:
    """Three trainees, dealt."""
    made = make_room()
    made.deal()
    return made


@pytest.fixture
def make_fair_room(tmp_path: Path) -> MakeFairRoom:
    """Make a class of the fair lab in a folder `name`: trainees by id, with their seats."""

    def make(people: Mapping[str, str], name: str = "class", **fields: str) -> FairRoom:
        room = FairRoom(tmp_path / name, tmp_path / "library")
        (room.library / "fair").mkdir(parents=True, exist_ok=True)
        text = FAIR_LAB.replace("LAST", fields.pop("last", "100000"))
        (room.library / "fair" / "lab.md").write_text(text, encoding="utf-8")
        room.path.mkdir()
        room.write_class(labs="[fair]", **fields)
        (room.path / "class-secret.txt").write_text("5a" * 32 + "\n")
        room.seat(people)
        return room

    return make

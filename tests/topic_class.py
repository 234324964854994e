"""The small class with topics in its lab, and what its people do in the room, written at once."""

from __future__ import annotations

from typing import Any, Final

from tiny_class import MakeRoom, Room

from labkit.exchange.formats import JOURNAL_ENDING
from labkit.exchange.journal import DRILL, Journal

DROP: Final = "voltage drop"
ADDRESSES: Final = "node addresses"
MONDAY: Final = "2031-05-05T08:{:02}:00Z"
TUESDAY: Final = "2031-05-06T08:{:02}:00Z"


def with_topics(make_room: MakeRoom, *people: str, **fields: str) -> Room:
    """A class, not dealt, whose lab names two topics."""
    made = make_room(*people, **{"time_zone": "UTC", **fields})
    file = made.library / "tiny" / "lab.md"
    text = file.read_text("utf-8")
    for title, topic in (("Double it", DROP), ("Three addresses", ADDRESSES)):
        assert f"title: {title}\n" in text
        text = text.replace(f"title: {title}\n", f"title: {title}\ntopic: {topic}\n")
    file.write_text(text, encoding="utf-8")
    return made


def room_journal(made: Room, trainee: str) -> Journal:
    """The journal that the room keeps of a trainee's workbook."""
    file = made.folder.journals / trainee / f"tiny{JOURNAL_ENDING}"
    file.parent.mkdir(parents=True, exist_ok=True)
    return Journal(file)


def drilled(made: Room, trainee: str, draw: str, credit: float, **more: Any) -> None:
    """An answer to one more like the first exercise, as the room keeps it."""
    told = {"exercise": "double", "draw": draw, "answer": "2 m", "credit": credit, **more}
    room_journal(made, trainee).append(DRILL, **told)

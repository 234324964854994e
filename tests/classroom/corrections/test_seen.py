"""A correction is done as it was seen: what came between refuses it, at the last moment too."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from sqlalchemy import select
from tiny_class import Room, corrected

from labkit.classroom.corrections import correcting
from labkit.classroom.corrections.changes import Changes, Snapshot
from labkit.classroom.corrections.correcting import correct, void
from labkit.classroom.corrections.seen import SeenClass
from labkit.classroom.errors import ClassError
from labkit.classroom.handins.settling import prepared
from labkit.classroom.marks.by_hand import give
from labkit.classroom.marks.scoring import score
from labkit.classroom.people.erasing import erase
from labkit.classroom.records.schema import editions, voids
from labkit.classroom.records.store import Records

WHY: Any = {"reason": "unclear", "by": "R. Ops"}
Does = Callable[[Room, SeenClass], Changes]


@pytest.fixture
def scored(room: Room) -> Room:
    room.hand_in("ann")
    room.hand_in("ben")
    score(room.folder)
    return room


def seen(room: Room) -> SeenClass:
    records = Records.of(room.folder)
    prepared(room.folder, records)
    return SeenClass.of(room.folder, records)


def entries(room: Room) -> tuple[int, int]:
    records = Records.of(room.folder)
    return len(records.rows(select(voids))), len(records.rows(select(editions)))


def by_void(room: Room, so: SeenClass) -> Changes:
    return void(room.folder, "tiny", "double", **WHY, seen=so)


def by_text(room: Room, so: SeenClass) -> Changes:
    return correct(
        room.folder, "tiny", corrected(room, ("tolerance: 0", "tolerance: 1")), **WHY, seen=so
    )


ACTS = pytest.mark.parametrize("does", [by_void, by_text])


def by_hand(room: Room) -> None:
    give(room.folder, "ben", "tiny", "plan", ["0.5"], by="Quin", note="Half.")


HAPPENED: dict[str, Callable[[Room], object]] = {
    "a mark was given by hand": by_hand,
    "somebody was erased": lambda room: erase(room.folder, "cy", reason="asked"),
    "something came into 'hand-ins'": lambda room: room.hand_in("cy"),
    "class.yaml was changed": lambda room: room.write_class(pass_mark="70"),
    "taken out of the marks": lambda room: void(room.folder, "tiny", "parity", **WHY),
}


@ACTS
def test_what_was_seen_is_done(scored: Room, does: Does) -> None:
    assert does(scored, seen(scored)).results or entries(scored) == (0, 2)


@ACTS
@pytest.mark.parametrize("what", HAPPENED)
def test_what_happened_since_is_named_and_nothing_is_done(
    scored: Room, does: Does, what: str
) -> None:
    so = seen(scored)
    HAPPENED[what](scored)
    before = entries(scored)
    with pytest.raises(ClassError, match=what):
        does(scored, so)
    assert entries(scored) == before


@ACTS
def test_what_happens_while_it_is_done_refuses_it_too(
    scored: Room, does: Does, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Meanwhile(Snapshot):
        @classmethod
        def of(cls, *about: Any) -> Any:
            by_hand(scored)
            return Snapshot.of(*about)

    so = seen(scored)
    monkeypatch.setattr(correcting, "Snapshot", Meanwhile)
    with pytest.raises(ClassError, match="a mark was given by hand"):
        does(scored, so)
    assert entries(scored) == (0, 1)
    assert [result.earned for result in score(scored.folder).results] == [8, 6.5, 0]

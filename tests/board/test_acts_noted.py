"""Whatever a trainer does on the pages is an entry that says who did it and when."""

from __future__ import annotations

from board_browser import FROM_HERE, BoardBrowser
from set_clock import SetClock
from sqlalchemy import select
from tiny_class import Room as Class

from labkit.classroom.marks.verifying import verify
from labkit.classroom.records.overview import counts
from labkit.classroom.records.schema import acts
from labkit.classroom.records.store import Records


def dealt(board: BoardBrowser) -> None:
    assert board.does("deal").status_code == 200
    assert board.when_done()["wrong"] == []


def late(board: BoardBrowser, trainee: str, name: str) -> None:
    seen = board.asks("people/list").json()["seen"]
    answer = board.does("people/add", cells={"id": trainee, "name": name}, seen=seen)
    assert answer.status_code == 200, answer.text


def test_what_was_done_to_a_class_is_told_with_who_and_when(
    board: BoardBrowser, a_class: Class, clock: SetClock
) -> None:
    clock.set("2026-11-27T08:00:00Z")
    late(board, "dee", "Dee Quist")
    assert not a_class.folder.has_records
    dealt(board)
    dealt(board)
    clock.set("2026-11-27T08:10:00Z")
    late(board, "eli", "Eli Marsh")
    file = a_class.hand_in("ann")
    file.rename(elsewhere := a_class.path.parent / file.name)
    data = elsewhere.read_bytes()
    sent = f'[["{file.name}", {len(data)}]]\n'.encode() + data
    for _ in range(2):
        path = "/class/class/hand-ins/receive"
        assert board.client.post(path, content=sent, headers=FROM_HERE).status_code == 200
    seen = board.asks("close/now").json()["seen"]
    kept = board.does("close/keep", until="2027-11-30", seen=seen)
    assert kept.status_code == 200, kept.text
    written = Records.of(a_class.folder).rows(select(acts))
    assert [(row["what"], row["by"], row["at"]) for row in written] == [
        ("Workbooks dealt: 4.", "Mira", "2026-11-27T08:00:00Z"),
        ("Somebody who came late was written into roster.csv.", "Mira", "2026-11-27T08:10:00Z"),
        ("Hand-ins taken in: 1.", "Mira", "2026-11-27T08:10:00Z"),
        ("Changed in class.yaml: keep_until.", "Mira", "2026-11-27T08:10:00Z"),
    ]
    shown = board.asks("close/open").json()["acts"]
    assert len(shown) == 4
    assert shown[0].endswith("08:10 UTC, Mira: Changed in class.yaml: keep_until.")
    told = list(counts(a_class.folder))
    assert told[-2].endswith("08:00 UTC, Mira: Workbooks dealt: 4.")
    assert told.index(told[-2]) > next(n for n, line in enumerate(told) if "taken in: 1" in line)
    assert not [one for one in verify(a_class.folder, "") if one.differs]

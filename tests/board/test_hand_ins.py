"""The page of hand-ins, asked without a browser: files in, what came, who is missing, scoring."""

from __future__ import annotations

import json
import shutil
import threading
import zipfile
from collections.abc import Sequence
from contextlib import closing
from io import BytesIO
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from board_browser import FROM_HERE, AtBoard, BoardBrowser
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from set_clock import SetClock
from sqlalchemy import select
from tiny_class import Room as Class

from labkit.board.app import board_app
from labkit.board.asked import Asked
from labkit.board.classes import Classes
from labkit.board.held_rooms import HeldRooms
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.handins.collecting import collect
from labkit.classroom.pages.debrief import write_analysis
from labkit.classroom.records.schema import counting, journals, receipts
from labkit.classroom.records.store import Records
from labkit.room.trainers import Trainers

PATH = "/class/class/hand-ins/receive"
Sent = tuple[str, bytes]


def lot(*files: Sent) -> bytes:
    """Files as a page sends them."""
    line = json.dumps([[name, len(data)] for name, data in files])
    return b"".join([line.encode(), b"\n", *(data for _, data in files)])


def send(board: BoardBrowser, *files: Sent) -> dict[str, Any]:
    answer = board.client.post(PATH, content=lot(*files), headers=FROM_HERE)
    assert answer.status_code == 200, answer.text
    told: dict[str, Any] = answer.json()
    return told


def who(told: dict[str, Any]) -> list[str]:
    return sorted(one["id"] for one in told["new"])


def reasons(told: dict[str, Any]) -> dict[str, list[str]]:
    return {kind["reason"]: [one["file"] for one in kind["files"]] for kind in told["told"]}


def hand_in(a_class: Class, trainee: str, answers: dict[str, Any] | None = None) -> bytes:
    """A hand-in's bytes; it does not lie in the class."""
    made = a_class.hand_in(trainee, answers)
    data = made.read_bytes()
    made.unlink()
    return data


def changed(data: bytes, **fields: object) -> bytes:
    return json.dumps({**json.loads(data), **fields}).encode()


@pytest.fixture
def dealt(a_class: Class) -> Class:
    a_class.deal()
    return a_class


def test_nobody_from_elsewhere_sends_anything(
    at_board: AtBoard, board: BoardBrowser, dealt: Class
) -> None:
    one = lot(("a.handin.json", hand_in(dealt, "ann")))
    assert at_board().client.post(PATH, content=one, headers=FROM_HERE).status_code == 403
    elsewhere = {"origin": "http://elsewhere.example"}
    assert board.client.post(PATH, content=one, headers=elsewhere).status_code == 403
    for part in ("list", "look", "score"):
        assert at_board().does(f"hand-ins/{part}").status_code in {403, 405}
    assert at_board().asks("hand-ins/list").status_code == 403
    assert not dealt.folder.has_records


def test_what_came_is_on_the_disk_byte_for_byte_and_once(board: BoardBrowser, dealt: Class) -> None:
    ann, ben = hand_in(dealt, "ann"), hand_in(dealt, "ben")
    told = send(board, ("a/ann.handin.json", ann), ("ben.handin.json", ben), ("x.txt", b""))
    assert who(told) == ["ann", "ben"]
    assert told["others"] == {"count": 1, "names": ["x.txt"]}
    kept = {file.read_bytes() for file in (dealt.path / "hand-ins" / "received").iterdir()}
    assert kept == {ann, ben}
    again = send(board, ("other name.handin.json", ann))
    assert (again["new"], again["known"]["names"]) == ([], ["other name.handin.json"])
    assert len(list((dealt.path / "hand-ins" / "received").iterdir())) == 2


def test_a_class_that_is_not_dealt_says_so(board: BoardBrowser) -> None:
    answer = board.client.post(PATH, content=lot(("a.json", b"{}")), headers=FROM_HERE)
    assert answer.status_code == 409
    assert "not dealt yet" in answer.text
    assert board.asks("hand-ins/list").json()["labs"] == []


@pytest.mark.parametrize(
    "name",
    [
        "../../../out.handin.json",
        "..\\..\\out.handin.json",
        "/tmp/out.handin.json",
        "nul\x00byte.handin.json",
        "n" * 300 + ".handin.json",
        "<img src=x onerror=alert(1)>.handin.json",
        "line\nbreak.handin.json",
        "half \ud800.handin.json",
        "",
        "..",
    ],
)
def test_a_hostile_name_is_only_a_name(
    board: BoardBrowser, dealt: Class, tmp_path: Path, name: str
) -> None:
    ann = hand_in(dealt, "ann")
    before = {file for file in tmp_path.rglob("*") if file.is_file()}
    told = send(board, (name, ann))
    ends = name.endswith(".json")
    assert who(told) == (["ann"] if ends else [])
    made = {file for file in tmp_path.rglob("*") if file.is_file()} - before
    inside = [file for file in made if file.is_relative_to(dealt.path)]
    assert len(inside) == len(made)
    assert {file.relative_to(dealt.path).parts[0] for file in made} <= {
        "hand-ins",
        "receipts",
        "records.sqlite",
        "records.sqlite-wal",
        "records.sqlite-shm",
    }


def test_a_damaged_a_changed_and_a_foreign_one_are_told_apart(
    board: BoardBrowser, dealt: Class
) -> None:
    ann = hand_in(dealt, "ann")
    told = send(
        board,
        ("empty.handin.json", b""),
        ("cut.handin.json", ann[:120]),
        ("changed.handin.json", changed(ann, made_at="2020-01-01T00:00:00Z")),
        ("other.handin.json", changed(ann, **{"class": "room-8"})),
        ("ann.handin.json", ann),
    )
    expected = {
        "damaged": ["cut.handin.json", "empty.handin.json"],
        "tampered": ["changed.handin.json"],
        "foreign": ["other.handin.json"],
    }
    assert who(told) == ["ann"]
    assert {reason: sorted(files) for reason, files in reasons(told).items()} == expected
    # A page that is opened later is told the same.
    later = board.asks("hand-ins/list").json()
    assert {reason: sorted(files) for reason, files in reasons(later).items()} == expected


def test_too_long_a_file_is_left_and_the_others_come_in(board: BoardBrowser, dealt: Class) -> None:
    most = board.asks("hand-ins/list").json()["limits"]["file"]
    told = send(board, ("ann.handin.json", hand_in(dealt, "ann")), ("b.handin.json", bytes(most)))
    assert (who(told), told["others"]["names"]) == (["ann"], ["b.handin.json"])


def test_more_than_goes_at_once_is_refused_in_words(
    board: BoardBrowser, dealt: Class, monkeypatch: pytest.MonkeyPatch
) -> None:
    from labkit.board import handins_side

    monkeypatch.setattr(handins_side, "_MOST", 1_000)
    answer = board.client.post(PATH, content=lot(("a.json", bytes(2_000))), headers=FROM_HERE)
    assert (answer.status_code, "too much" in answer.text) == (413, True)
    assert not dealt.folder.has_records


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"[]x",
        b"no json\n",
        b"{}\n",
        b'[["a.json", -1]]\n',
        b'[["a.json", true]]\n',
        b'[["a.json", 99999999999999999999]]\n{}',
        b'[["a.json", 2]]\n{',
        b'[["a.json", 1]]\n{}',
        b"[" * 60_000 + b"\n",
        b'["a.json"]\n',
        b"x" * 70_000,
    ],
)
def test_what_no_page_sends_is_refused(board: BoardBrowser, dealt: Class, body: bytes) -> None:
    answer = board.client.post(PATH, content=body, headers=FROM_HERE)
    assert answer.status_code == 409
    assert "once more" in answer.text or "load the page again" in answer.text
    assert not dealt.folder.has_records


def test_nothing_that_was_sent_stays_beside_the_class(
    board: BoardBrowser, dealt: Class, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    beside = tmp_path / "temporary"
    beside.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(beside))
    data = BytesIO()
    with zipfile.ZipFile(data, "w") as archive:
        archive.writestr("ann.handin.json", hand_in(dealt, "ann"))
    assert who(send(board, ("mail.zip", data.getvalue()))) == ["ann"]
    board.client.post(PATH, content=b"[]x", headers=FROM_HERE)
    assert list(beside.iterdir()) == []


def test_a_zip_that_is_none_is_told_and_named(board: BoardBrowser, dealt: Class) -> None:
    told = send(board, ("mail.zip", b"no archive"), ("ann.handin.json", hand_in(dealt, "ann")))
    assert (who(told), reasons(told)) == (["ann"], {"not read": ["mail.zip"]})


def test_two_hundred_at_once_come_in_once_each(board: BoardBrowser, dealt: Class) -> None:
    ann = hand_in(dealt, "ann")
    told = send(board, *((f"{n}.handin.json", ann) for n in range(200)))
    assert (who(told), told["known"]["count"]) == (["ann"], 199)
    # Two pages at the same time: neither is refused, and nothing is there twice.
    ben = hand_in(dealt, "ben")
    answers: list[dict[str, Any]] = []

    def page() -> None:
        answers.append(send(board, ("ben.handin.json", ben)))

    pages = [threading.Thread(target=page) for _ in range(4)]
    for one in pages:
        one.start()
    for one in pages:
        one.join()
    assert sorted(who(one) for one in answers) == [[], [], [], ["ben"]]


def test_the_list_says_who_is_missing_and_who_is_late(
    board: BoardBrowser, dealt: Class, clock: SetClock
) -> None:
    dealt.write_class(deadline="2030-01-01T09:00:00Z")
    clock.set("2030-01-01T10:00:00Z")
    told = send(board, ("a.handin.json", hand_in(dealt, "ann")))
    assert (told["new"][0]["late"], told["told"]) == (True, [])
    known = board.asks("hand-ins/list").json()
    (lab,) = known["labs"]
    assert [one["id"] for one in lab["missing"]] == ["ben", "cy"]
    (ann,) = lab["handed_in"]
    assert (ann["late"], ann["came_in"], ann["received"]) == (True, 1, "1 January 2030 10:00 UTC")
    late = next(kind for kind in known["told"] if kind["reason"] == "late")
    assert [one["name"] for one in late["files"]] == ["Ann Orrel"]


def test_the_own_folder_is_looked_through(board: BoardBrowser, dealt: Class) -> None:
    dealt.hand_in("cy")
    assert [one["id"] for one in board.asks("hand-ins/list").json()["labs"][0]["missing"]] == [
        "ann",
        "ben",
        "cy",
    ]
    assert who(board.does("hand-ins/look").json()) == ["cy"]


def test_scoring_says_its_stages_and_writes_what_the_command_writes(
    board: BoardBrowser, dealt: Class, asked: Asked, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[str] = []

    def looking(*all_: Any) -> Any:
        seen.append(asked.works.last("class")["what"])  # type: ignore[index]
        return write_analysis(*all_)

    monkeypatch.setattr("labkit.classroom.pages.debrief.write_analysis", looking)
    send(board, ("a.handin.json", hand_in(dealt, "ann")))
    assert board.does("hand-ins/score").status_code == 200
    work = board.when_done()
    assert work["wrong"] == []
    assert (work["told"]["results"], work["told"]["counted"]) == (3, 1)
    assert seen == ["Looking closer (step 3 of 3)"]
    written = {file.name for file in dealt.folder.scores.iterdir()}
    pages = {"overview.html", "debrief.html", "analysis.html"}
    assert pages | {"score-sheet.csv", "score-sheet.xlsx", "tiny--ann.html"} <= written
    assert board.asks("hand-ins/list").json()["scored"]


def test_what_hinders_scoring_is_told(board: BoardBrowser) -> None:
    board.does("hand-ins/score")
    assert any("not dealt yet" in line for line in board.when_done()["wrong"])


@pytest.fixture(scope="module")
def as_dealt(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[Sent]]:
    """A dealt class in a folder, and files that come: whole, again, cut off, changed, foreign."""
    from tiny_class import TINY_LAB

    made = Class(tmp_path_factory.mktemp("dealt") / "class", tmp_path_factory.mktemp("library"))
    (made.library / "tiny").mkdir()
    text = TINY_LAB.replace("LAST", "100000")
    (made.library / "tiny" / "lab.md").write_text(text, encoding="utf-8")
    made.path.mkdir()
    made.write_class()
    made.write_roster("ann,Ann Orrel", "ben,Ben Tasker", "cy,Cy Morland")
    made.deal()
    first = hand_in(made, "ann", {"double": "1 m"})
    ann, ben, cy = (hand_in(made, trainee) for trainee in ("ann", "ben", "cy"))
    files = [
        ("tiny--ann.handin.json", first),
        ("tiny--ann (1).handin.json", ann),
        ("tiny--ben.handin.json", ben),
        ("copy of tiny--ben.handin.json", ben),
        ("tiny--cy.handin.json", cy[:200]),
        ("changed.handin.json", changed(cy, made_at="2020-01-01T00:00:00Z")),
        ("elsewhere.handin.json", changed(cy, **{"class": "room-8"})),
        ("package.json", b"{}"),
        ("notes.txt", b""),
    ]
    return made.path, files


def state(folder: ClassFolder) -> tuple[object, ...]:
    """What the records hold of the files that came, and the files themselves, in no order."""
    records, unlike = Records.of(folder), ("id", "received_at")
    rows = [
        sorted(tuple(row[name] for name in row if name not in unlike) for row in all_)
        for all_ in (records.rows(select(receipts)), records.rows(select(journals)))
    ]
    counts = {row["workbook"]: row["digest"] for row in records.rows(select(counting))}
    places = [folder.hand_ins / "received", folder.path / "set-aside"]
    kept = {file.name: file.read_bytes() for at in places if at.exists() for file in at.iterdir()}
    return rows, counts, kept


@settings(max_examples=8, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_the_records_are_those_of_receiving_from_a_folder(
    as_dealt: tuple[Path, list[Sent]], data: st.DataObject
) -> None:
    dealt, files = as_dealt
    order = data.draw(st.lists(st.sampled_from(range(len(files))), min_size=1, max_size=14))
    cuts = data.draw(st.lists(st.integers(1, len(order)), max_size=3))
    with TemporaryDirectory() as place, closing(HeldRooms()) as rooms:
        here, there, stick = (Path(place) / name for name in ("page", "command", "stick"))
        for at in (here, there):
            shutil.copytree(dealt, at / "class")
        stick.mkdir()
        for number in set(order):
            (stick / files[number][0]).write_bytes(files[number][1])
        asked = Asked(Classes(here), Trainers(), "labkit-board-test")
        board = BoardBrowser(board_app(asked, rooms)).signed_in(asked)
        for some in _lots([files[number] for number in order], cuts):
            send(board, *some)
        command = ClassFolder.open(there / "class")
        collect(command, [stick])
        assert state(ClassFolder.open(here / "class")) == state(command)


def _lots(files: Sequence[Sent], cuts: Sequence[int]) -> list[Sequence[Sent]]:
    ends = sorted({0, len(files), *cuts})
    return [files[start:end] for start, end in pairwise(ends)]

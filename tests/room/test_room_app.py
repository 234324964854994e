"""The room in a browser, without one: what each page may ask for, and what nobody may."""

from __future__ import annotations

import json
from collections.abc import Iterator
from time import sleep
from typing import Any

import pytest
from in_a_browser import FROM_HERE, HERE, Browser, Open
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect
from tiny_class import TINY_LAB, MakeRoom
from tiny_class import Room as Class

from labkit.room.app import room_app
from labkit.room.room import CLOSED_NOW, Room
from labkit.room.trainers import Trainers
from labkit.room.trouble import Trouble


def test_from_the_code_on_a_card_to_a_mark(
    browser: Open, room: Room, in_class: Class, trainers: Trainers
) -> None:
    ann = browser()
    assert ann.client.get("/seat").json() == {"class_title": "Room 7", "name": None}
    ann.joined(room, "ann")
    seat = ann.client.get("/seat").json()
    assert seat["name"] == "Ann Orrel"
    assert [lab["id"] for lab in seat["labs"]] == ["tiny"]
    opened = ann.client.get("/lab/tiny/desk").json()
    assert opened["sheet"]["title"] == "Tiny lab"
    assert opened["person"] == "ann"
    right = in_class.right("ann")
    heard = ann.answers("double", right["double"]).json()
    assert heard["reply"] == {"token": "t1", "saved": True}
    assert heard["saved"]["verdict"]["right"]
    receipt = ann.post("/lab/tiny/hand-in", {}).json()
    assert ann.client.get("/seat").json()["labs"][0]["receipt"]["code"] == receipt["code"]
    assert ann.client.get("/lab/tiny/results").status_code == 404
    mira = browser().signed_in(trainers)
    assert mira.post("/trainer/do", {"act": "release", "lab": "tiny"}).json() == {"done": True}
    page = ann.client.get("/lab/tiny/results")
    assert "4 / 4" in page.text or "4 of" in page.text
    assert "script-src" not in page.headers["content-security-policy"]


def test_who_releases_right_after_closing_has_everybodys_work_in_it(
    browser: Open, room: Room, in_class: Class, trainers: Trainers
) -> None:
    ann = browser().joined(room, "ann")
    ann.answers("double", in_class.right("ann")["double"])
    mira = browser().signed_in(trainers)
    # Nobody looks each second here: what is shut is not handed in yet.
    for act in ("close", "release"):
        assert mira.post("/trainer/do", {"act": act, "lab": "tiny"}).json() == {"done": True}
    assert "4 of 8 marks" in ann.client.get("/lab/tiny/results").text


def test_nothing_is_marked_for_results_that_may_not_be_released(
    make_class: MakeRoom, trainers: Trainers, monkeypatch: pytest.MonkeyPatch
) -> None:
    room = Room(make_class(mode="assessed").folder)
    room.open_lab("tiny", "Mira")
    monkeypatch.setattr(
        "labkit.room.trainer_side.work_out_results", lambda _: pytest.fail("marked")
    )
    mira = Browser(room_app(room, trainers)).signed_in(trainers)
    refused = mira.post("/trainer/do", {"act": "release", "lab": "tiny"})
    assert refused.status_code == 409
    assert "Close the lab first" in refused.text


def test_marks_are_released_for_one_lab_and_each_sees_their_own(
    make_class: MakeRoom, trainers: Trainers
) -> None:
    made = make_class(mode="assessed")
    second = made.library / "other"
    second.mkdir()
    (second / "lab.md").write_text(TINY_LAB.replace("id: tiny", "id: other").replace("LAST", "60"))
    made.write_class(labs="[tiny, other]", mode="assessed")
    made.deal()
    room = Room(made.folder)
    for lab in ("tiny", "other"):
        room.open_lab(lab, "Mira")
    served = room_app(room, trainers)
    ann, ben, cas = (Browser(served) for _ in range(3))
    for one, name in zip((ann, ben, cas), room.people, strict=True):
        one.joined(room, name)
    right = made.right("ann")["double"]
    ann.answers("double", right)
    ben.answers("double", "1 m")
    for lab in ("tiny", "other"):
        assert ann.post(f"/lab/{lab}/hand-in", {}).status_code == 200

    def asked(one: Browser, lab: str = "tiny") -> Any:
        return one.client.get(f"/lab/{lab}/marks")

    for one in (ann, ben, cas, Browser(served)):
        assert asked(one).status_code == 404
    mira = Browser(served).signed_in(trainers)
    for act in ("close", "release"):
        assert mira.post("/trainer/do", {"act": act, "lab": "tiny"}).json() == {"done": True}
    whose = {}
    for one, name in ((ann, "ann"), (ben, "ben")):
        marks = asked(one).json()
        assert marks["workbook"] == room.workbooks.items[name, "tiny"].workbook
        whose[name] = {each["exercise"]: each for each in marks["exercises"]}["double"]
        page = one.client.get("/lab/tiny/results").text
        assert f"{marks['earned']:g} of {marks['marked']:g} marks" in page
        assert whose[name]["working"] in page
    assert (whose["ann"]["state"], whose["ann"]["earned"]) == ("right", 4)
    assert (whose["ben"]["state"], whose["ben"]["earned"]) == ("wrong", 0)
    assert whose["ben"]["answer"] == "1 m"
    assert whose["ben"]["message"]
    assert whose["ben"]["right"] == made.right("ben")["double"]
    # Who handed nothing in has no marks, nobody without a seat has any, nor the trainer as one.
    for nobody in (cas, Browser(served), mira):
        assert asked(nobody).status_code == 404
    # What may be asked for by hand leads to nobody else's, nor to a lab that is not released.
    for path in ("other/marks", "other/results", "tiny--ben/marks", "..%2ftiny/marks", "*/marks"):
        assert ann.client.get(f"/lab/{path}").status_code == 404
    more = {"trainee": "ben", "workbook": room.workbooks.items["ben", "tiny"].workbook}
    assert ann.client.get("/lab/tiny/marks", params=more).json()["earned"] == 4
    assert ann.post("/lab/tiny/marks", more).status_code in (404, 405)
    # On another device their seat is lost, and the marks with it.
    Browser(served).joined(room, "ann")
    assert asked(ann).status_code == 404


def test_before_results_are_released_no_answer_of_the_room_carries_a_mark(
    make_class: MakeRoom, trainers: Trainers
) -> None:
    made = make_class(mode="assessed")
    room = Room(made.folder)
    room.open_lab("tiny", "Mira")
    ann = Browser(room_app(room, trainers)).joined(room, "ann")
    heard = [ann.answers("double", answer).json() for answer in ("1 m", "no number")]
    ann.post("/lab/tiny/hand-in", {})
    heard += [ann.client.get(f"/lab/tiny/{path}").json() for path in ("desk", "shown/double")]
    heard += [ann.client.get("/seat").json()]
    said = [name for name, _ in pairs(heard)]
    assert "exercises" in said
    assert not {"tries", "earned", "state", "right answer", "message"} & set(said)
    told = [value for name, value in pairs(heard) if name in ("working", "example", "cells")]
    assert not any(told)
    assert not any(value for name, value in pairs(heard) if name in ("right", "credit"))


def pairs(value: Any) -> Iterator[tuple[str, Any]]:
    """All names in some JSON, each with what it names."""
    if isinstance(value, list):
        for each in value:
            yield from pairs(each)
    if isinstance(value, dict):
        for name, each in value.items():
            yield name, each
            yield from pairs(each)


def test_nobody_without_a_seat_gets_anything(browser: Open) -> None:
    nobody = browser()
    paths = ("desk", "kinds/quantity.js", "kinds/quantity.css", "results", "marks")
    for path in paths:
        assert nobody.client.get(f"/lab/tiny/{path}").status_code in (403, 404)
    assert nobody.answers("double", "1 m").status_code == 403
    assert nobody.post("/lab/tiny/hand-in", {}).status_code == 403
    assert nobody.post("/lab/tiny/pad", {"lines": ["1 + 1"]}).status_code == 403
    assert nobody.client.get("/trainer/now").status_code == 403
    assert nobody.post("/trainer/do", {"act": "open", "lab": "tiny"}).status_code == 403
    with nobody.socket() as socket:
        with pytest.raises(WebSocketDisconnect) as closed:
            socket.receive_text()
        assert closed.value.code == 4403


def test_a_trainee_is_no_trainer_and_reads_nobody_elses_work(
    browser: Open, room: Room, in_class: Class
) -> None:
    ann, ben = browser().joined(room, "ann"), browser("192.0.2.8").joined(room, "ben")
    ann.answers("double", "123.25 m")
    said = ben.client.get("/lab/tiny/desk").text + ben.client.get("/seat").text
    assert "123.25" not in said
    assert "Ann" not in said
    assert str(in_class.number("ann")) not in said
    assert ann.client.get("/trainer/now").status_code == 403
    assert ann.post("/trainer/do", {"act": "release", "lab": "tiny"}).status_code == 403
    # The cookie of a trainee, shown as a trainer's.
    ann.client.cookies.set("labkit-trainer", ann.client.cookies["labkit-seat"])
    assert ann.client.get("/trainer/now").status_code == 403


def test_nothing_secret_leaves(browser: Open, room: Room, in_class: Class) -> None:
    ann = browser().joined(room, "ann")
    secret = in_class.folder.secret()
    task = (in_class.home("ann") / "tiny.task.json").read_text("utf-8")
    key = json.loads(task)["signing_key"]
    said = "".join(
        ann.client.get(path).text
        for path in ("/", "/seat", "/lab/tiny/", "/lab/tiny/desk", "/lab/tiny/kinds/quantity.js")
    )
    said += ann.answers("double", "nonsense").text + ann.answers("double", "1 m", "t2").text
    assert secret not in said
    assert key not in said
    for trainee in ("ben", "cy"):
        assert room.on_cards[trainee] not in said
    # The answer's own number is right to be in the working only once it is right.
    assert f"{2 * in_class.number('ann')} m**" not in said


@pytest.mark.parametrize("origin", ["", "http://192.0.2.1:8643", "https://evil.example", "null"])
def test_a_page_from_elsewhere_does_nothing(
    browser: Open, room: Room, trainers: Trainers, origin: str
) -> None:
    ann = browser().joined(room, "ann").signed_in(trainers)
    message = {"do": "answer", "token": "t1", "answer": "1 m"}
    posts: dict[str, object] = {
        "/lab/tiny/say": {"exercise": "double", "message": message},
        "/lab/tiny/hand-in": {},
        "/lab/tiny/pad": {"lines": ["1 + 1"]},
        "/leave": {},
        "/join": {"code": room.on_cards["ben"]},
        "/ask": {"name": "Zoe"},
        "/asked": {},
        "/trainer/sign-in": {"key": trainers.key, "name": "Zoe"},
        "/trainer/do": {"act": "close", "lab": "tiny"},
    }
    for path, said in posts.items():
        assert ann.post(path, said, origin=origin).status_code == 403, path
    with ann.socket(origin) as socket:
        with pytest.raises(WebSocketDisconnect) as closed:
            socket.receive_text()
        assert closed.value.code == 4403
    assert room.is_open("tiny")
    assert room.door.waiting == {}


@pytest.mark.parametrize("host", ["evil.example:8642", "192.0.2.1.evil.example", "class.local"])
def test_a_name_of_somebody_elses_choosing_is_refused(browser: Open, host: str) -> None:
    assert browser().client.get("/", headers={"host": host}).status_code == 421


@pytest.mark.parametrize("host", ["192.0.2.1:8642", "[2001:db8::1]:8642", "localhost:8642"])
def test_an_address_in_numbers_is_taken(browser: Open, host: str) -> None:
    assert browser().client.get("/", headers={"host": host}).status_code == 200


def test_the_name_of_the_rooms_certificate_is_taken(room: Room) -> None:
    named = TestClient(room_app(room, Trainers(["https://room.example:8642"])))
    for host, status in (("room.example:8642", 200), ("other.example:8642", 421)):
        assert named.get("/", headers={"host": host}).status_code == status


def test_a_cookie_is_secure_where_the_room_is_https(room: Room, trainers: Trainers) -> None:
    for scheme in ("http", "https"):
        here = HERE.replace("http", scheme)
        someone = TestClient(room_app(room, trainers), base_url=here, headers={"origin": here})
        joined = someone.post("/join", json={"code": room.on_cards["ann"]})
        assert ("Secure" in joined.headers["set-cookie"]) == (scheme == "https")


def test_guessing_slows_the_one_who_guesses_and_nobody_else(browser: Open, room: Room) -> None:
    guesser = browser("192.0.2.66")
    for _ in range(3):
        assert guesser.post("/join", {"code": "000000"}).status_code == 404
    assert guesser.post("/join", {"code": "000001"}).status_code == 429
    # The right code waits too, and tells nothing before.
    assert guesser.post("/join", {"code": room.on_cards["ann"]}).status_code == 429
    assert guesser.post("/trainer/sign-in", {"key": "x", "name": "Z"}).status_code == 429
    browser("192.0.2.8").joined(room, "ben")


def test_a_second_device_is_asked_first_and_the_first_one_is_let_go(
    browser: Open, room: Room
) -> None:
    first = browser().joined(room, "ann")
    with first.socket() as socket:
        second = browser("192.0.2.9")
        said = second.post("/join", {"code": room.on_cards["ann"]}).json()
        assert said == {"question": "Ann Orrel is at work on another device."}
        assert second.client.get("/seat").json()["name"] is None
        second.joined(room, "ann")
        with pytest.raises(WebSocketDisconnect) as closed:
            socket.receive_text()
        assert closed.value.code == 4403
    assert first.client.get("/lab/tiny/desk").status_code == 403
    assert first.client.get("/seat").json()["name"] is None
    assert second.client.get("/lab/tiny/desk").status_code == 200


def test_two_windows_of_one_person_agree(browser: Open, room: Room) -> None:
    ann = browser().joined(room, "ann")
    with (
        ann.socket() as one,
        ann.socket() as other,
    ):
        message = {"do": "answer", "token": "t1", "answer": "7 m"}
        one.send_text(json.dumps({"exercise": "double", "message": message}))
        assert one.receive_json()["reply"] == {"token": "t1", "saved": True}
        told = other.receive_json()
        assert told["saved"]["answer"] == "7 m"
        assert "reply" not in told
        # Over plain requests the windows with a socket hear of it too.
        ann.answers("double", "8 m", "t2")
        assert one.receive_json()["saved"]["answer"] == "8 m"


def test_who_is_let_in_by_the_trainer_sits_down(browser: Open, trainers: Trainers) -> None:
    ann = browser()
    assert ann.post("/ask", {"name": "Ann"}).json() == {"asked": True}
    assert ann.post("/asked", {}).json() == {"waits": True}
    mira = browser().signed_in(trainers)
    (waiting,) = mira.client.get("/trainer/now").json()["waiting"]
    assert waiting["name"] == "Ann"
    said = {"act": "let in", "number": waiting["number"], "trainee": "ann"}
    assert mira.post("/trainer/do", said).json() == {"done": True}
    assert ann.post("/asked", {}).json() == {"joined": True}
    assert ann.client.get("/seat").json()["name"] == "Ann Orrel"
    # The number of somebody's asking lets nobody else in.
    other = browser()
    other.client.cookies.set("labkit-asked", waiting["number"])
    assert other.post("/asked", {}).status_code == 403


def test_the_trainer_sees_who_is_at_work_and_how_far(
    browser: Open, room: Room, trainers: Trainers
) -> None:
    ann = browser().joined(room, "ann")
    mira = browser().signed_in(trainers)
    with ann.socket():
        ann.answers("double", "1 m")
        now = mira.client.get("/trainer/now").json()
    people = {person["id"]: person["labs"]["tiny"] for person in now["people"]}
    assert (people["ann"]["pages"], people["ann"]["answered"], people["ann"]["of"]) == (1, 1, 3)
    assert people["ben"]["pages"] == 0
    assert people["ben"]["answered"] is None
    assert now["addresses"] == [HERE]
    assert now["trainer"] == "Mira"


def test_what_a_trainer_does_is_told_to_the_pages(
    browser: Open, room: Room, trainers: Trainers
) -> None:
    ann, mira = browser().joined(room, "ann"), browser().signed_in(trainers)
    with ann.socket() as socket:
        assert mira.post("/trainer/do", {"act": "close", "lab": "tiny"}).status_code == 200
        assert socket.receive_json() == {"news": True}
    assert ann.client.get("/lab/tiny/desk").json()["shut"] == CLOSED_NOW
    assert ann.post("/lab/tiny/hand-in", {}).text == CLOSED_NOW


@pytest.mark.parametrize(
    "said",
    [
        {"act": "open", "lab": "none"},
        {"act": "open", "lab": ["tiny"]},
        {"act": "give time", "lab": "tiny", "trainee": "zoe", "minutes": 5},
        {"act": "end in", "lab": "tiny", "minutes": True},
        {"act": "end in", "lab": "tiny", "minutes": "5"},
        {"act": "end in", "lab": "tiny", "minutes": 1e9},
        {"act": "let in", "number": "x", "trainee": "ann"},
        {"act": "burn"},
        {"act": None},
        [],
        None,
    ],
)
def test_what_cannot_be_done_is_said_and_changes_nothing(
    browser: Open, trainers: Trainers, in_class: Class, said: object
) -> None:
    mira = browser().signed_in(trainers)
    before = (in_class.path / "room" / "room.jsonl").read_bytes()
    answer = mira.post("/trainer/do", said)
    assert answer.status_code in (400, 403, 409)
    assert answer.text.endswith(".")
    assert (in_class.path / "room" / "room.jsonl").read_bytes() == before


def test_with_a_wrong_key_or_without_a_name_nobody_signs_in(
    browser: Open, trainers: Trainers
) -> None:
    someone = browser()
    assert someone.post("/trainer/sign-in", {"key": "", "name": "Z"}).status_code == 403
    assert someone.post("/trainer/sign-in", {"key": trainers.key, "name": " "}).status_code == 403
    assert someone.client.get("/trainer/now").status_code == 403


def test_what_is_too_long_or_no_json_is_refused(browser: Open, room: Room) -> None:
    ann = browser().joined(room, "ann")
    for content in (b"x" * 300_000, b"[" * 100_000, b"\xff\xfe", b""):
        answer = ann.client.post("/lab/tiny/say", content=content, headers=FROM_HERE)
        assert answer.status_code == 400
    parts: Iterator[bytes] = iter([b"1", b"2"])
    # A body without a length might never end.
    answer = ann.client.post("/lab/tiny/say", content=parts, headers=FROM_HERE)
    assert answer.status_code == 400


def test_every_answer_says_what_a_browser_may_do_with_it(browser: Open, room: Room) -> None:
    ann = browser().joined(room, "ann")
    for path in ("/", "/trainer", "/seat", "/own/room.css", "/own/none.css", "/lab/tiny/", "/x"):
        headers = ann.client.get(path).headers
        assert headers["content-security-policy"].startswith("default-src 'none'"), path
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["cache-control"] == "no-store"
    cookie = ann.post("/join", {"code": room.on_cards["ben"]}).headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie


def test_only_own_files_are_served(browser: Open) -> None:
    anyone = browser()
    for name in ("app.py", "..%2froom%2fapp.py", "%2e%2e/app.py", "room.jsonl", "README.md"):
        for place in ("own", "lab/tiny/own", "lab/tiny/word"):
            assert anyone.client.get(f"/{place}/{name}").status_code == 404
    assert anyone.client.get("/own/joining.js").status_code == 200


def test_a_full_disk_is_told_without_its_paths(
    browser: Open, room: Room, trainers: Trainers, monkeypatch: pytest.MonkeyPatch
) -> None:
    mira = browser().signed_in(trainers)

    def full(_: int) -> None:
        raise OSError(28, "No space left on device", "/somewhere/room.jsonl")

    with monkeypatch.context() as patch:
        patch.setattr("os.fsync", full)
        answer = browser().post("/join", {"code": room.on_cards["ann"]})
    assert answer.status_code == 503
    assert "somewhere" not in answer.text
    assert "Tell your instructor" in answer.text
    assert "No space left" in mira.client.get("/trainer/now").json()["trouble"]


def test_where_answers_cannot_be_saved_the_trainer_is_told(
    browser: Open, room: Room, trainers: Trainers, monkeypatch: pytest.MonkeyPatch
) -> None:
    mira, ann = browser().signed_in(trainers), browser().joined(room, "ann")
    ann.answers("double", "1 m")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("os.fsync", full)
        failed = ann.answers("double", "2 m", "t2").json()["reply"]
    assert failed["again"]
    words = "Not saved: No space left on device. Tell your instructor if this stays."
    assert failed["failed"] == words
    trouble = mira.client.get("/trainer/now").json()["trouble"]
    assert trouble.startswith("Not everything can be saved: No space left on device. Make room")
    assert ann.answers("double", "2 m", "t2").json()["reply"] == {"token": "t2", "saved": True}


def test_trouble_is_told_some_seconds_long(monkeypatch: pytest.MonkeyPatch) -> None:
    now, trouble = [1000.0], Trouble()
    monkeypatch.setattr("labkit.room.trouble.monotonic", lambda: now[-1])
    trouble.tell("The disk is full.")
    now.append(1019.0)
    assert trouble.now == "The disk is full."
    now.append(1020.5)
    assert trouble.now == ""


def test_while_the_room_is_open_what_is_shut_is_handed_in(app: Any, room: Room) -> None:
    ann = Browser(app).joined(room, "ann")
    ann.answers("double", "1 m")
    room.close_lab("tiny", "Mira")
    with ann.client:
        for _ in range(2_000):
            if room.receipt(room.workbooks.items["ann", "tiny"]):
                break
            sleep(0.05)
    assert room.receipt(room.workbooks.items["ann", "tiny"])


def test_a_lab_that_was_begun_is_gone_on_with_when_the_room_is_opened_again(
    browser: Open, room: Room, in_class: Class
) -> None:
    ann = browser().joined(room, "ann")
    assert ann.client.get("/seat").json()["labs"][0]["begun"] is False
    ann.answers("double", "1 m")
    again = Room(in_class.folder)
    ann = Browser(room_app(again, Trainers())).joined(again, "ann")
    assert ann.client.get("/seat").json()["labs"][0]["begun"] is True


def test_an_assessed_lab_is_not_seen_before_it_is_open(make_class: MakeRoom) -> None:
    room = Room(make_class(mode="assessed").folder)
    ann = Browser(room_app(room, Trainers())).joined(room, "ann")
    assert ann.client.get("/lab/tiny/desk").status_code == 403
    assert ann.client.get("/seat").json()["labs"][0]["may_see"] is False
    room.open_lab("tiny", "Mira")
    opened = ann.client.get("/lab/tiny/desk").json()
    heard = ann.answers("double", "1 m").json()
    assert heard["saved"]["verdict"] is None
    assert opened["practice"] is False

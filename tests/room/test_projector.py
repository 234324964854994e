"""The projector: what it shows, who may open it, and that it never names anybody."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from in_a_browser import HERE, Browser
from sent_to_projector import AT_PROJECTOR, Recorder
from tiny_class import MakeRoom
from tiny_class import Room as Class

from labkit.classroom.analysis.whole import analyse
from labkit.classroom.dealing.nobodys_draw import nobodys_draws
from labkit.classroom.errors import ClassError
from labkit.classroom.marks.scoring import score
from labkit.room.app import room_app
from labkit.room.few import told
from labkit.room.log import Projected, View
from labkit.room.projecting import Projecting
from labkit.room.room import Room
from labkit.room.trainers import Trainers

PEOPLE = (
    ("zq-quorvane", "Quorvane Ixtapel"),
    ("zq-brellix", "Brellix Ovundra"),
    ("zq-tamsyrk", "Tamsyrk Jeppolo"),
    ("zq-wendauk", "Wendauk Fyrrel"),
    ("zq-umbrasz", "Umbrasz Kolvini"),
    ("zq-halvorp", "Halvorp Dynnet"),
    ("zq-grintow", "Grintow Masulka"),
)
IDS = tuple(trainee for trainee, _ in PEOPLE)
WRITTEN = """
```exercise why
kind: written
title: Say why
question: Say in a sentence why twice {{ a }} m is even.
least: 1
most: 20
marks: 2
model: Twice a whole number can be halved.
rubric:
  - {id: halved, text: Says that it can be halved., marks: 2}
working: Twice {{ a }} m can be halved.
```
"""


@pytest.fixture
def make_named(make_room: MakeRoom) -> MakeRoom:
    """A class of seven whose names, ids and numbers are unmistakable, with a written exercise."""

    def make(**fields: str) -> Class:
        people = [f"{trainee},{name}" for trainee, name in PEOPLE]
        made = make_room(*people, last=900_000, **fields)
        lab = made.library / "tiny" / "lab.md"
        text = lab.read_text("utf-8").replace("from: 1,", "from: 100000,")
        lab.write_text(text + WRITTEN, "utf-8")
        made.deal()
        return made

    return make


def answer(room: Room, trainee: str, answers: dict[str, Any]) -> None:
    desk = room.workbooks.opened(room.workbooks.items[trainee, "tiny"]).desk
    for exercise, said in answers.items():
        message = {"do": "answer", "token": f"{exercise}-{said}", "answer": said}
        assert desk.hear({"exercise": exercise, "message": message})


def at_work(room: Room, made: Class) -> None:
    """Four count one too many, one is right, one types a name where a length belongs."""
    for place, (trainee, name) in enumerate(PEOPLE):
        double = f"{2 * made.number(trainee) + (place < 4)} m"
        odd = made.option(trainee, "It is odd.")
        answers = {
            "double": double if place < 5 else f"{name} says 12 m",
            "parity": odd if place in (1, 2) else made.right(trainee)["parity"],
            "plan": {"pump": "1", "valve": "2", "scale": trainee},
            "why": f"{name} ({trainee}) halves {made.number(trainee)}.",
        }
        answer(room, trainee, answers)


def shown(room: Room, view: str, exercise: str = "", step: int = 0) -> Any:
    """What the projector shows once the trainer chose it."""
    room.project(Projected(View(view), "tiny", exercise, step), "Mira")
    return json.loads(Projecting(room, HERE).now())


# What it shows


def test_before_anything_is_chosen_it_shows_where_to_join(room: Room) -> None:
    picture = json.loads(Projecting(room, HERE).now())
    assert picture["view"] == "class"
    assert picture["class_title"] == "Room 7"
    assert picture["address"] == HERE
    assert picture["square"].startswith("<svg")


def test_progress_counts_a_class_and_tells_small_numbers_as_few(make_named: MakeRoom) -> None:
    made = make_named()
    room = Room(made.folder)
    at_work(room, made)
    picture = shown(room, "progress")
    assert picture["people"] == "7"
    parts = {
        each["title"]: {part["state"]: part["words"] for part in each["parts"]}
        for each in picture["exercises"]
    }
    # One right, six saved: who that one is stays theirs.
    assert parts["Double it"] == {
        "right": "fewer than 3",
        "partly": "nobody",
        "saved": "5 or more",
        "open": "nobody",
    }
    assert parts["Even or odd"]["saved"] == "fewer than 3"
    assert parts["Say why"]["saved"] == "7"


def test_of_an_assessed_lab_it_tells_saved_and_open_until_results_are_released(
    make_named: MakeRoom,
) -> None:
    made = make_named(mode="assessed")
    room = Room(made.folder)
    room.open_lab("tiny", "Mira")
    at_work(room, made)
    picture = shown(room, "progress")
    assert [part["state"] for part in picture["exercises"][0]["parts"]] == ["saved", "open"]
    assert picture["exercises"][0]["parts"][0]["words"] == "7"
    for view, exercise in (("exercise", "double"), ("debrief", "")):
        with pytest.raises(ClassError, match="Release its results first"):
            shown(room, view, exercise)
    # Where the log says so all the same, as after a change of class.yaml, nothing is told.
    room._log.add("projected", "Mira", view="exercise", lab="tiny", exercise="double", step=9)
    assert json.loads(Projecting(room, HERE).now())["view"] == "class"
    assert Projecting(room, HERE).for_trainer()["steps"] == []
    room.close_lab("tiny", "Mira")
    room.settle()
    score(made.folder)
    room.release("tiny", "Mira")
    assert shown(room, "exercise", "double", 2)["right"]
    assert shown(room, "debrief")["first"][0]["people"]["words"] == "4"


def test_of_fewer_than_five_nothing_is_counted(room: Room, in_class: Class) -> None:
    answer(room, "ann", {"double": f"{2 * in_class.number('ann') + 1} m"})
    assert shown(room, "progress")["people"] == ""
    assert [each["parts"] for each in shown(room, "progress")["exercises"]] == [None] * 3
    debrief = shown(room, "debrief")
    assert (debrief["people"], debrief["first"], debrief["more"]) == ("", [], [])
    # All known mistakes then, whoever made one.
    (mistake,) = shown(room, "exercise", "double", 1)["mistakes"]
    assert mistake["people"] is None


def test_an_exercise_is_uncovered_step_by_step_in_numbers_that_nobody_has(
    make_named: MakeRoom,
) -> None:
    made = make_named()
    room = Room(made.folder)
    at_work(room, made)
    covered = shown(room, "exercise", "double")
    number = int(re.findall(r"twice (\d+) m", covered["question"])[0])
    assert number not in {made.number(trainee) for trainee in IDS}
    assert (covered["mistakes"], covered["right"], covered["working"]) == (None, "", [])
    # What the question needs is there; not the texts that are the same for everybody.
    assert str(number) in covered["texts"][0]["html"]
    second = shown(room, "exercise", "double", 1)
    (mistake,) = second["mistakes"]
    assert mistake["people"]["words"] == "4"
    assert str(2 * number) in mistake["words"]
    assert second["right"] == ""
    assert str(2 * number) in shown(room, "exercise", "double", 2)["right"]
    last = shown(room, "exercise", "double", 99)
    assert len(last["working"]) == 1
    assert f"{2 * number} m" in last["working"][0]


def test_a_draw_that_somebody_was_dealt_is_passed_over(make_named: MakeRoom) -> None:
    made = make_named()
    lab, secret = made.folder.lab("tiny", dealt=True), made.folder.secret()
    first, second, *_ = nobodys_draws(secret, "room-7", lab, ())
    assert next(nobodys_draws(secret, "room-7", lab, {first.fingerprint})).drawn == second.drawn
    # The same for a projector that is asked again.
    assert next(nobodys_draws(secret, "room-7", lab, ())).drawn == first.drawn


def test_where_all_numbers_are_dealt_it_says_so(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("labkit.classroom.dealing.nobodys_draw.MOST_DRAWS", 0)
    assert "none left to show" in shown(room, "exercise", "double")["refused"]


def test_known_mistakes_grow_while_the_class_works(make_named: MakeRoom) -> None:
    made = make_named()
    room = Room(made.folder)
    projecting = Projecting(room, HERE)
    room.project(Projected(View.DEBRIEF, "tiny"), "Mira")
    seen = []
    for trainee in IDS:
        answer(room, trainee, {"double": f"{2 * made.number(trainee) + 1} m"})
        first = json.loads(projecting.now())["first"]
        seen.append(first[0]["people"]["words"] if first else "")
    assert seen == ["", "", "", "", "5", "6", "7"]


def test_what_has_not_changed_is_not_worked_out_again(make_named: MakeRoom) -> None:
    made = make_named()
    room = Room(made.folder)
    at_work(room, made)
    projecting = Projecting(room, HERE)
    room.project(Projected(View.PROGRESS, "tiny"), "Mira")
    before = projecting.now()
    assert projecting.now() is before
    answer(room, IDS[0], {"double": "1 m"})
    assert projecting.now() is not before


def test_figures_are_those_of_the_debrief(make_named: MakeRoom) -> None:
    made = make_named()
    room = Room(made.folder)
    at_work(room, made)
    # Two at one bench count once, whatever the guest did before.
    room.put_together("tiny", IDS[3], IDS[4], "Mira")
    # Who only looked has handed nothing in.
    projecting = Projecting(room, HERE)
    lab = room.workbooks.lab("tiny")
    by_now = [(s.number, s.slip, s.count, s.handed_in) for s in projecting._slips(lab)]
    picture = shown(room, "debrief")
    room.close_lab("tiny", "Mira")
    room.settle()
    scoring = score(made.folder)
    (found,) = analyse(scoring.labs, scoring.results, {})
    assert by_now == [(s.number, s.slip, s.count, s.handed_in) for s in found.slips]
    assert by_now[0] == (1, "one-more", 3, 6)
    assert picture["people"] == str(found.table.trainees)
    parts = told([3, 3])
    assert parts
    assert picture["first"][0]["people"]["words"] == parts[0].words


def test_what_is_chosen_is_in_the_log_and_outlasts_a_restart(room: Room, in_class: Class) -> None:
    room.project(Projected(View.EXERCISE, "tiny", "double", 1, 2), "Mira")
    entry = json.loads((in_class.path / "room" / "room.jsonl").read_text("utf-8").splitlines()[-1])
    assert (entry["act"], entry["by"], entry["view"]) == ("projected", "Mira", "exercise")
    assert Room(in_class.folder).projected == Projected(View.EXERCISE, "tiny", "double", 1, 2)


@pytest.mark.parametrize(("lab", "exercise"), [("gone", "double"), ("tiny", "gone")])
def test_what_is_there_no_more_is_not_shown(room: Room, lab: str, exercise: str) -> None:
    room._log.add("projected", "Mira", view="exercise", lab=lab, exercise=exercise)
    projecting = Projecting(room, HERE)
    assert json.loads(projecting.now())["view"] == "class"
    assert projecting.for_trainer()["steps"] == []


def test_the_trainer_is_told_what_comes_next(room: Room) -> None:
    room.project(Projected(View.EXERCISE, "tiny", "double"), "Mira")
    told_to = Projecting(room, HERE).for_trainer()
    assert told_to["steps"] == [
        "the question",
        "known mistakes",
        "the right answer",
        "working, step 1",
    ]
    assert told_to["labs"][0]["exercises"][1] == {
        "id": "parity",
        "title": "2. Even or odd",
        "bench": False,
    }


@pytest.mark.parametrize(
    "said",
    [
        {"view": "everything"},
        {"view": ["class"]},
        {"view": "progress"},
        {"view": "progress", "lab": "none"},
        {"view": "replay", "lab": "tiny", "exercise": "double"},
        {"view": "replay", "lab": "tiny", "exercise": "none"},
        {"view": "exercise", "lab": "tiny", "exercise": "none"},
        {"view": "exercise", "lab": "tiny", "exercise": "double", "step": -1},
        {"view": "exercise", "lab": "tiny", "exercise": "double", "step": True},
        {"view": "progress", "lab": "tiny", "down": "1"},
        {"view": "progress", "lab": "tiny", "down": 100},
        {"view": "progress", "lab": {}},
    ],
)
def test_what_cannot_be_shown_is_refused_and_changes_nothing(
    room: Room, app: Any, trainers: Trainers, said: dict[str, Any]
) -> None:
    mira = Browser(app).signed_in(trainers)
    answered = mira.does("project", **said)
    assert answered.status_code == 409
    assert answered.text.endswith(".")
    assert room.projected == Projected()


# Who may open it


def key_of(app: Any, trainers: Trainers) -> str:
    now = Browser(app).signed_in(trainers).client.get("/trainer/now").json()
    return str(now["projector"]["key"])


def projector(app: Any, trainers: Trainers) -> Browser:
    """A projector that was opened by its link."""
    opened = Browser(app, AT_PROJECTOR)
    assert opened.post("/projector/sign-in", {"key": key_of(app, trainers)}).status_code == 200
    return opened


def test_its_key_opens_it_and_nothing_else(app: Any, room: Room, trainers: Trainers) -> None:
    opened = projector(app, trainers)
    assert opened.client.get("/projector/now").json()["view"] == "class"
    (passes,) = [cookie for cookie in opened.client.cookies.jar if "projector" in cookie.name]
    assert passes.path == "/projector"
    # Shown at every other door, under every other name.
    for name in ("labkit-projector", "labkit-trainer", "labkit-seat"):
        thief = Browser(app)
        thief.client.cookies.set(name, str(passes.value))
        assert thief.client.get("/trainer/now").status_code == 403
        assert thief.client.get("/seat").json()["name"] is None
        for path in ("desk", "marks", "results", "shown/double", "kinds/choice.js"):
            assert thief.client.get(f"/lab/tiny/{path}").status_code in (403, 404)
        for act in ("project", "release", "open"):
            assert thief.does(act, lab="tiny", view="class").status_code == 403
    assert room.projected == Projected()


def test_no_other_pass_opens_it(app: Any, room: Room, trainers: Trainers) -> None:
    ann = Browser(app).joined(room, "ann").signed_in(trainers)
    assert ann.client.get("/projector/now").status_code == 403
    for name in ("labkit-seat", "labkit-trainer"):
        ann.client.cookies.set("labkit-projector", str(ann.client.cookies[name]))
        assert ann.client.get("/projector/now").status_code == 403
    for key in ("", trainers.key, room.on_cards["ann"]):
        assert Browser(app).post("/projector/sign-in", {"key": key}).status_code == 403


def test_wrong_keys_are_slowed_and_other_pages_refused(app: Any, trainers: Trainers) -> None:
    key, guesser = key_of(app, trainers), Browser(app, "192.0.2.66")
    for _ in range(4):
        guesser.post("/projector/sign-in", {"key": "x"})
    assert guesser.post("/projector/sign-in", {"key": key}).status_code == 429
    elsewhere = Browser(app).post("/projector/sign-in", {"key": key}, origin="https://evil.example")
    assert elsewhere.status_code == 403


def test_each_opening_of_the_room_has_a_key_of_its_own(room: Room, trainers: Trainers) -> None:
    first, second = room_app(room, trainers), room_app(room, trainers)
    opened = projector(first, trainers)
    late = Browser(second, AT_PROJECTOR)
    late.client.cookies.update(opened.client.cookies)
    refused = late.client.get("/projector/now")
    assert refused.status_code == 403
    assert "link" in refused.text


# It never names anybody


def modules(opened: Browser, page: str) -> Iterator[str]:
    """The paths of all scripts and sheets that a page loads."""
    waiting, seen = re.findall(r'(?:src|href)="(own/[^"]+)"', page), set[str]()
    while waiting:
        path = waiting.pop()
        if path in seen:
            continue
        seen.add(path)
        yield path
        text = opened.client.get(f"/{path}").text
        waiting += [f"own/{name}" for name in re.findall(r'from "\./([^"]+)"', text)]


def walked_through(room: Room, app: Any, trainers: Trainers) -> bytes:
    """Every byte that a projector is sent that is told to show all that there is."""
    recorder = Recorder(app)
    mira = Browser(recorder).signed_in(trainers)
    opened = Browser(recorder, AT_PROJECTOR)
    opened.client.get("/projector/now")
    page = opened.client.get("/projector").text
    assert "own/show.js" not in list(modules(opened, page))
    opened.post("/projector/sign-in", {"key": "wrong"})
    key = mira.client.get("/trainer/now").json()["projector"]["key"]
    assert opened.post("/projector/sign-in", {"key": key}).status_code == 200
    # What it has no business with.
    for path in ("/seat", "/trainer", "/trainer/now", "/lab/tiny/desk", "/lab/tiny/results"):
        opened.client.get(path)
    opened.post("/join", {"code": "000000"})
    shown = 0
    for exercise in ("", *(each.id for each in room.workbooks.lab("tiny").exercises)):
        for view in View:
            for step in range(5 if view is View.EXERCISE else 1):
                chosen = {"view": view, "lab": "tiny", "exercise": exercise}
                mira.does("project", **chosen, step=step, down=step)
                answered = opened.client.get("/projector/now")
                assert answered.status_code == 200
                shown += len(answered.content)
    assert shown > 15_000
    return bytes(recorder.sent)


def of_people(room: Room, made: Class) -> dict[str, re.Pattern[bytes]]:
    """All that is somebody's, and how it would be found."""
    words: set[str] = {made.folder.secret(), *IDS}
    for trainee, name in PEOPLE:
        item = room.workbooks.items[trainee, "tiny"]
        number = made.number(trainee)
        words |= {name, *name.split(), trainee.removeprefix("zq-"), room.on_cards[trainee]}
        words |= {item.workbook, item.fingerprint}
        words |= {str(number), str(2 * number), str(2 * number + 1)}
    return {
        word: re.compile(rf"(?<![0-9]){re.escape(word)}(?![0-9])".encode(), re.IGNORECASE)
        for word in words
    }


def found_of_people(sent: bytes, room: Room, made: Class) -> set[str]:
    escaped = json.dumps(sent.decode("utf-8", "replace")).encode()
    wanted = of_people(room, made).items()
    return {word for word, found in wanted if found.search(sent) or found.search(escaped)}


@pytest.fixture
def released(make_named: MakeRoom) -> tuple[Class, Room]:
    """A class that has answered everything, and whose results are released."""
    made = make_named()
    room = Room(made.folder)
    at_work(room, made)
    room.put_together("tiny", IDS[5], IDS[6], "Mira")
    room.hand_in([room.workbooks.items[IDS[0], "tiny"]])
    score(made.folder)
    room.release("tiny", "Mira")
    return made, room


def test_it_is_never_sent_anything_of_anybody(
    released: tuple[Class, Room], trainers: Trainers
) -> None:
    made, room = released
    sent = walked_through(room, room_app(room, trainers), trainers)
    assert b"labkit-projector=" in sent
    assert b"fewer than 3" in sent
    assert found_of_people(sent, room, made) == set()


def _a_trainees_words(_: Projecting, __: Any, slip: Any, *___: Any) -> dict[str, Any]:
    people = {"words": "4", "drawn": 4}
    return {"number": 1, "title": "", "answer": "", "words": slip.told, "people": people, "of": 7}


PLANTED: dict[str, Callable[..., Any]] = {
    "_told_of": _a_trainees_words,
    "_way_in": lambda self: {"address": next(iter(self._room.people)), "square": ""},
    "_title": lambda self, *_: self._room.people[IDS[2]].split()[1].upper(),
    "_draws": lambda self, _: [self._room.workbooks.scenario(self._items("tiny")[0][0])],
}


def test_what_is_planted_is_found(
    released: tuple[Class, Room], trainers: Trainers, monkeypatch: pytest.MonkeyPatch
) -> None:
    made, room = released
    for place, planted in PLANTED.items():
        with monkeypatch.context() as patch:
            patch.setattr(Projecting, place, planted)
            sent = walked_through(room, room_app(room, trainers), trainers)
        assert found_of_people(sent, room, made), place

"""A replay for a class: what it shows is what a bench reads, and nothing of it is anybody's."""

from __future__ import annotations

import json
import re
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from in_a_browser import HERE, Browser
from replay_class import EXERCISE, IDS, PEOPLE, dealt_class, measured, ohms, takes, volts
from sent_to_projector import AT_PROJECTOR, Recorder

from labkit.bench.bench import Bench
from labkit.bench.debrief import look_back
from labkit.bench.lookback import suspects
from labkit.bench.session import Session
from labkit.bench.situation import Situation
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.errors import ClassError
from labkit.kinds.common.bench_setup import setup_of
from labkit.lab.draw import Scenario
from labkit.room.app import room_app
from labkit.room.log import Projected, View
from labkit.room.projecting import Projecting
from labkit.room.replaying import Replay, Replays
from labkit.room.room import Room
from labkit.room.trainers import Trainers

LAB = "halve-it"
BARE = {"start": 1, "single": True, "sorts": [], "ways": [[], []], "halving": []}
"""Nothing measured: as much of a bench as two ways need to be told of."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> ClassFolder:
    """Seven have measured: four began with the meter, three with a voltage."""
    made = dealt_class(tmp_path_factory.mktemp("replay"))
    measured(Room(made))
    return made


@pytest.fixture(scope="module", autouse=True)
def played_once() -> Iterator[None]:
    """The same bench is played once, however many rooms ask for it."""
    play, known = Replays._played_at, dict[str, Any]()

    def remembered(self: Replays, kind: str, question: dict[str, Any]) -> dict[str, Any]:
        name = json.dumps(question, sort_keys=True)
        if name not in known:
            known[name] = play(self, kind, question)
        found: dict[str, Any] = known[name]
        return found

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Replays, "_played_at", remembered)
        yield


@pytest.fixture(scope="module")
def sent(folder: ClassFolder) -> tuple[Room, Projecting, bytes]:
    """The room, its projector's pictures, and every byte that the projector was sent."""
    room, trainers = Room(folder), Trainers([HERE])
    recorder = Recorder(room_app(room, trainers))
    mira = Browser(recorder).signed_in(trainers)
    opened = Browser(recorder, AT_PROJECTOR)
    now = mira.client.get("/trainer/now").json()["projector"]
    opened.post("/projector/sign-in", {"key": now["key"]})
    chosen = {"view": "replay", "lab": LAB, "exercise": EXERCISE}
    assert mira.does("project", **chosen).status_code == 200
    while not (now := mira.client.get("/trainer/now").json()["projector"])["steps"]:
        assert now["waits"]
        assert opened.client.get("/projector/now").json()["waits"]
        time.sleep(0.1)
    for step in range(len(now["steps"])):
        mira.does("project", **chosen, step=step)
        assert opened.client.get("/projector/now").json()["at"]
    projecting = Projecting(room, HERE)
    return room, projecting, bytes(recorder.sent)


def made(room: Room, projecting: Projecting) -> Replay:
    room.project(Projected(View.REPLAY, LAB, EXERCISE), "Mira")
    while (replay := projecting._replay(room.projected)) is None:
        time.sleep(0.05)
    assert not replay.failed
    return replay


@pytest.fixture(scope="module")
def replay(sent: tuple[Room, Projecting, bytes]) -> Replay:
    return made(*sent[:2])


def pictures(room: Room, projecting: Projecting) -> list[Any]:
    """All that can be uncovered, one after the other."""
    made(room, projecting)
    count = len(projecting.for_trainer()["steps"])
    found = []
    for step in range(count):
        room.project(Projected(View.REPLAY, LAB, EXERCISE, step), "Mira")
        found.append(json.loads(projecting.now()))
    return found


def nobodys(room: Room, projecting: Projecting) -> Scenario:
    lab = room.workbooks.lab(LAB)
    return projecting._in_draws(lab, lab.exercises[0])[0][0].scenario


def test_ways_are_those_that_at_least_three_took(
    sent: tuple[Room, Projecting, bytes], replay: Replay
) -> None:
    first, other, halving = replay.ways
    names = nobodys(*sent[:2]).names["everyone"]
    near, far = f"from {names[0]}, 4 CAN_H to", f"from {names[-1]}, 4 CAN_H to"
    # What two of the four did between is not shown; a reading that was taken twice counts once.
    assert [near in step["words"] for step in first["steps"]] == [True, False]
    assert [far in step["words"] for step in first["steps"]] == [False, True]
    assert first["people"] == {"words": "4", "of": 7}
    assert [step["first"] for step in other["steps"]] == [[], ["power off"], []]
    assert other["people"] == {"words": "3", "of": 7}
    assert (halving["words"], halving["people"]) == ("By halving, with the meter", None)


def test_figures_are_those_of_a_bench_played_by_hand_and_of_its_look_back(
    sent: tuple[Room, Projecting, bytes], replay: Replay
) -> None:
    prepared = nobodys(*sent[:2]).prepare(sent[0].workbooks.lab(LAB).exercises[0])
    setup = setup_of(prepared.ask["setup"])
    faults = frozenset(map(setup.catalogue.fault_from_json, prepared.key["faults"]))
    far = list(setup.layout.devices)[-1]
    by_hand = (
        [{"kind": "power off"}, ohms("scanner"), ohms(far)],
        [volts(far), {"kind": "power off"}, ohms(far), ohms("scanner")],
    )
    for way, steps in zip(replay.ways, by_hand, strict=False):
        session = Session.at(Bench(setup, faults, Situation(power=True))).replay(steps)
        looks = look_back(session, suspects(setup, faults), ())
        by_bench = [
            (look.step.reading.text, look.before, look.after) for look in looks if look.step.reading
        ]
        assert [(one["text"], one["before"], one["after"]) for one in way["steps"]] == by_bench
        assert sum(step["minutes"] for step in way["steps"]) == session.minutes


def test_causes_only_shrink_and_the_fault_stays_among_them(replay: Replay) -> None:
    assert replay.bench
    for way in replay.ways:
        left = replay.bench["start"]
        for step in way["steps"]:
            assert step["before"] == left
            assert 1 <= step["after"] <= left
            assert sum(step["left"]) == step["after"]
            left = step["after"]
    assert left < 5
    *_, last = replay.ways[-1]["steps"]
    assert last["after"] < last["before"]


def test_what_is_guessed_is_not_sent_before_it_is_uncovered(
    sent: tuple[Room, Projecting, bytes], replay: Replay
) -> None:
    room, projecting, _ = sent
    shown = pictures(room, projecting)
    asked = [one for one in shown if one["at"] == "ask"]
    told = [one for one in shown if one["at"] == "step" and one["choices"]]
    assert len(asked) == len(told) == len(replay.ways[0]["steps"])
    for before, after in zip(asked, told, strict=True):
        assert all(set(choice) == {"first", "words"} for choice in before["choices"])
        assert len(after["choices"]) == 4
        (taken,) = [choice for choice in after["choices"] if choice["taken"]]
        last = after["path"][-1]
        assert (taken["text"], taken["left"]) == (last["text"], last["after"])
        assert last["text"] not in json.dumps(before["path"][len(after["path"]) - 1 :])
        assert sum(choice["halving"] for choice in after["choices"]) == 1
    assert shown[0]["at"] == "start"
    assert shown[-1]["at"] == "together"
    # On and on, and no further than it goes.
    room.project(Projected(View.REPLAY, LAB, EXERCISE, 99), "Mira")
    assert json.loads(projecting.now())["at"] == "together"


def of_people(room: Room) -> dict[str, re.Pattern[str]]:
    """All that is somebody's and nobody else's: names, ids, cards, numbers, seeds, their draw."""
    words = {room.folder.secret(), *IDS}
    for line in PEOPLE:
        trainee, _, name = line.partition(",")
        item = room.workbooks.items[trainee, LAB]
        names = room.workbooks.scenario(item).names
        words |= {name, *name.split(), room.on_cards[trainee], item.workbook, item.fingerprint}
        words |= {str(names["order"]), json.dumps(names["everyone"])[1:-1], str(names["gaps"])}
    return {
        word: re.compile(rf"(?<![0-9]){re.escape(word)}(?![0-9])", re.IGNORECASE) for word in words
    }


def test_nothing_of_anybody_is_sent(sent: tuple[Room, Projecting, bytes]) -> None:
    room, projecting, data = sent
    text = data.decode("utf-8", "replace")
    assert text.count('"at": "step"') > 5
    order = str(nobodys(room, projecting).names["order"])
    assert order in text
    assert {word for word, found in of_people(room).items() if found.search(text)} == set()


def test_what_is_somebodys_would_be_found(
    sent: tuple[Room, Projecting, bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    room = sent[0]
    somebodys = room.workbooks.scenario(room.workbooks.items[IDS[0], LAB])
    monkeypatch.setattr(Projecting, "_draws", lambda *_: [somebodys])
    monkeypatch.setattr(Replays, "_played_at", lambda *_: BARE)
    text = json.dumps(pictures(room, Projecting(room, HERE)), ensure_ascii=False)
    assert {word for word, found in of_people(room).items() if found.search(text)}


def test_while_it_is_looked_at_it_stays_and_chosen_anew_it_knows_what_was_done_since(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Any] = []

    def without_a_bench(_: Replays, __: str, question: dict[str, Any]) -> dict[str, Any]:
        asked.append(question["replay"])
        return {**BARE, "ways": [[] for _ in question["replay"]]}

    monkeypatch.setattr(Replays, "_played_at", without_a_bench)
    room = Room(dealt_class(tmp_path))
    projecting = Projecting(room, HERE)
    for trainee in IDS[:4]:
        takes(room, trainee, [{"kind": "power off"}, ohms("scanner")])
    # Of four nothing is told.
    assert (made(room, projecting).measured, asked) == (4, [[]])
    takes(room, IDS[4], [{"kind": "indicators"}])
    assert made(room, projecting).measured == 4
    room.project(Projected(), "Mira")
    projecting.now()
    assert made(room, projecting).measured == 5
    [[move]] = asked[-1]
    assert move["step"]["kind"] == "ohms"


def test_of_an_assessed_lab_nothing_is_replayed_before_its_release(tmp_path: Path) -> None:
    folder = dealt_class(tmp_path)
    for trainee in IDS[:5]:
        takes(Room(folder), trainee, [{"kind": "power off"}])
    # Dealt as an assessed one it would have its readings taken beforehand, which takes long.
    fields = folder.path / "class.yaml"
    fields.write_text(fields.read_text("utf-8").replace("practice", "assessed"), "utf-8")
    room = Room(ClassFolder.open(folder.path))
    with pytest.raises(ClassError, match="Release its results first"):
        room.project(Projected(View.REPLAY, LAB, EXERCISE), "Mira")
    # Where the log says so all the same, nothing is told, and nothing is played.
    room._log.add("projected", "Mira", view="replay", lab=LAB, exercise=EXERCISE, step=9)
    projecting = Projecting(room, HERE)
    assert json.loads(projecting.now())["view"] == "class"
    assert projecting.for_trainer()["steps"] == []
    assert projecting._replays._known == {}
    assert not projecting._replays._shown


def test_a_bench_that_cannot_be_played_is_told(
    sent: tuple[Room, Projecting, bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    def ended(*_: Any) -> Any:
        raise RuntimeError("secret words")

    monkeypatch.setattr(Replays, "_played_at", ended)
    room, projecting = sent[0], Projecting(sent[0], HERE)
    room.project(Projected(View.REPLAY, LAB, EXERCISE), "Mira")
    while json.loads(projecting.now()).get("waits"):
        time.sleep(0.05)
    assert (
        json.loads(projecting.now())["refused"] == "The bench could not be played. Choose it again."
    )
    assert projecting.for_trainer()["steps"] == []

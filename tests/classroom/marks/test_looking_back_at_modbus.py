"""An assessed diagnosis of a Modbus line: handed in, marked, looked back at, replayed."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from tiny_class import MakeRoom, Room

from labkit.classroom.dealing.seeds import scenario_of
from labkit.classroom.marks.looking_back import look_back_at_class
from labkit.classroom.marks.scoring import score
from labkit.classroom.pages.reports import write_pages
from labkit.doors.installed import check_for, page_for
from labkit.exchange.task_file import read_task
from labkit.kinds.diagnosis.replaying import carried_over, replayed_at, to_replay
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab

SHIPPED = Path(__file__).parents[3] / "labs" / "modbus-faults" / "lab.md"
CASES = ("case-device", "case-terminator", "case-bias")
PAIR = {"a": "controller/2", "b": "controller/1"}


@pytest.fixture
def handed(make_room: MakeRoom) -> Room:
    """Ann has looked, asked, logged, measured and repaired; Ben at one the other way round."""
    made = make_room("ann,Ann Orrel", "ben,Ben Tasker", mode="assessed")
    text = SHIPPED.read_text("utf-8").replace("id: modbus-faults", "id: tiny")
    (made.library / "tiny" / "lab.md").write_text(text, "utf-8")
    made.deal()
    made.hand_in("ann", {case: answered(made, "ann", case, WAY) for case in CASES})
    made.hand_in("ben", {CASES[0]: answered(made, "ben", CASES[0], WAY[::-1])})
    return made


WAY: list[dict[str, Any]] = [
    {"kind": "scanner report"},
    {"kind": "indicators", "seconds": 6.0},
    {"kind": "frame log", "listener": "controller"},
    {"kind": "volts", **PAIR},
]


def drawn(room: Room, trainee: str, exercise: str) -> Any:
    folder, item = room.folder, room.dealt.dealt.find(trainee, "tiny")
    assert item is not None
    lab = folder.lab("tiny", dealt=True)
    scenario = scenario_of(folder.secret(), folder.fields.id, lab, item)
    return scenario.prepare(next(each for each in lab.exercises if each.id == exercise))


def answered(room: Room, trainee: str, case: str, way: list[dict[str, Any]]) -> dict[str, Any]:
    """The way at the assessed bench as it was dealt, and then the right answer."""
    task = read_task(room.home(trainee) / "tiny.task.json")
    ask = next(each for each in task["exercises"] if each["id"] == case)["ask"]
    page: Any = page_for("diagnosis")(ask, None)
    for step in [*way, {"kind": "power off"}, {"kind": "ohms", **PAIR}]:
        entry = page.take(step, {})["entry"]
        assert not entry["refused"], entry
    made = drawn(room, trainee, case)
    right: dict[str, Any] = check_for("diagnosis").right_answer(made.ask, made.key)
    repairs = [step for step in right["steps"] if step["kind"] != "power off"]
    steps = [*way, {"kind": "power off"}, {"kind": "ohms", **PAIR}, *repairs]
    return {**right, "steps": steps}


def test_it_is_marked_and_each_step_says_what_it_told(handed: Room) -> None:
    folder = handed.folder
    scoring = score(folder)
    assert [result.earned for result in scoring.results] == [15, 5]
    told, left = look_back_at_class(folder, scoring, 600)
    assert left == 0
    write_pages(folder, scoring, told=told)
    text = Path(folder.scores / "tiny--ann.html").read_text("utf-8")
    assert text.count("What each step told") == len(CASES)
    assert text.count("A good path from the start") == len(CASES)
    for words in ("the master&#39;s report", "voltage of controller, 2 D1 against"):
        assert words in text or words.replace("&#39;", "'") in text, words
    for word in ("scanner", "CAN_H", "drain"):
        assert word not in text, word
    # Every step is worked out, that of the traffic too, and none rules out what is there.
    assert "was not worked out" not in text
    after = [int(count) for count in re.findall(r"possible faults? before, (\d+) after", text)]
    assert len(after) == 6 * len(CASES)
    assert min(after) > 0
    # Whoever asks the master first need not measure at every device.
    assert max(after[::6]) < 60
    paths = [path.split("</dd>")[0] for path in text.split("A good path from the start:")[1:]]
    assert all(1 <= path.count(" left.") <= 6 for path in paths)


def test_two_ways_are_replayed_at_one_bench() -> None:
    lab = read_lab(SHIPPED)
    exercise = next(each for each in lab.exercises if each.id == "case-bias")
    ann: Any
    ben: Any
    ann, ben = (draw(lab, who).prepare(exercise) for who in ("ann", "ben"))
    ways = [
        carried_over(ann.ask, ann.key, [*WAY, {"kind": "power off"}, {"kind": "ohms", **PAIR}],
                     ann.ask),
        carried_over(ben.ask, ben.key, WAY[::-1], ann.ask),
    ]  # fmt: skip
    asked = to_replay(ann.ask, ann.key, ways)
    told = replayed_at(asked["bench"], asked["replay"])
    assert told["start"] > 50
    assert [len(way) for way in told["ways"]] == [5, 4]
    last = told["ways"][0][-1]
    assert 0 < last["after"] < told["start"] / 4
    assert all(step["after"] > 0 for way in told["ways"] for step in way)

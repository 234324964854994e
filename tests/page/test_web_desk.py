"""A desk that is shut keeps nothing and says why; whose hand did an act stands in the journal."""

from __future__ import annotations

import json
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from labkit.exchange.journal import ANSWER, HANDED_IN, HINT, OPENED, STEP, Journal, records
from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab
from labkit.page.desk import Desk
from labkit.page.sheet import sheet_of
from labkit.workbook import task_data

sys.path.append(str(Path(__file__).parents[1] / "exchange"))
from exchange_schemas import wrong_in

LABS = Path(__file__).parents[2] / "labs"
FIRE = "The class is paused: leave the room by the nearest way out."


@pytest.fixture(scope="module")
def scenario() -> Scenario:
    return draw(read_lab(LABS / "bring-up" / "lab.md"), "a desk")


class Door:
    """What a host says of its desks."""

    shut = ""

    def __call__(self) -> str:
        return self.shut


@pytest.fixture
def door() -> Door:
    return Door()


@pytest.fixture
def desk(scenario: Scenario, tmp_path: Path, door: Door) -> Desk:
    return desk_of(scenario, tmp_path, door)


def desk_of(scenario: Scenario, folder: Path, door: Door, *, practice: bool = True) -> Desk:
    task = task_data(
        scenario,
        workbook="w1",
        class_id="c",
        class_title="Autumn class",
        trainee={"id": "t01", "name": "Ansa Merrow"},
        practice=practice,
        deadline=None,
        signing_key="5" * 64,
        hosted=True,
    )
    return Desk(task, folder / "w.task.json", sheet_of(scenario), door)


def entries(folder: Path) -> list[dict[str, Any]]:
    return list(Journal(folder / "w.answers.jsonl").read().entries)


def said(exercise: str, do: str, token: str, **more: Any) -> dict[str, Any]:
    return {"exercise": exercise, "message": {"do": do, "token": token, **more}}


def reply(desk: Desk, message: dict[str, Any], **more: Any) -> Any:
    heard = desk.hear(message, **more)
    assert heard
    return heard["reply"]


def names(desk: Desk) -> tuple[str, str]:
    """The exercise with a bench, and the first of the workbook."""
    kinds = {name: each["kind"] for name, each in desk.opened()["exercises"].items()}
    return next(name for name, kind in kinds.items() if kind == "diagnosis"), next(iter(kinds))


def test_a_shut_desk_keeps_nothing_and_says_why(desk: Desk, door: Door, tmp_path: Path) -> None:
    bench, first = names(desk)
    before = said(first, "answer", "t1", answer="1 m")
    assert reply(desk, before) == {"token": "t1", "saved": True}
    door.shut = FIRE
    shown, kept = desk.opened(), entries(tmp_path)
    for number, message in enumerate(
        (
            said(first, "answer", "t2", answer="2 m"),
            said(first, "hint", "t3"),
            said(bench, "step", "t4", step={"kind": "power on"}),
            said(bench, "dance", "t5"),
        ),
        2,
    ):
        assert reply(desk, message) == {"token": f"t{number}", "failed": f"Not saved: {FIRE}"}
    assert desk.opened() == shown
    # What was kept before is confirmed: its reply may have been lost.
    assert reply(desk, before) == {"token": "t1", "saved": True}
    assert entries(tmp_path) == kept
    assert desk.hear({"exercise": first, "message": "no message"}) is None
    door.shut = ""
    assert reply(desk, said(first, "answer", "t2", answer="2 m")) == {"token": "t2", "saved": True}


def test_what_is_handed_in_has_the_act_under_way_and_nothing_comes_after(
    desk: Desk, door: Door, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, first = names(desk)
    writing, go_on = threading.Event(), threading.Event()
    real = Journal.append

    def slow(journal: Journal, event: str, **details: Any) -> dict[str, Any]:
        writing.set()
        assert go_on.wait(20)
        return real(journal, event, **details)

    monkeypatch.setattr(Journal, "append", slow)
    answer = said(first, "answer", "t1", answer="1 m")
    with ThreadPoolExecutor() as hands:
        act = hands.submit(reply, desk, answer)
        assert writing.wait(20)
        door.shut = "The time is over."
        handing_in = hands.submit(desk.handed_in)
        late = hands.submit(reply, desk, said(first, "answer", "t2", answer="2 m"))
        with pytest.raises(TimeoutError):
            handing_in.result(0.2)
        go_on.set()
        assert act.result(20) == {"token": "t1", "saved": True}
        journal = handing_in.result(20)["journal"]
        assert late.result(20) == {"token": "t2", "failed": "Not saved: The time is over."}
    assert [entry["event"] for entry in journal] == [OPENED, ANSWER, HANDED_IN]
    assert [entry["event"] for entry in entries(tmp_path)] == [OPENED, ANSWER, HANDED_IN]


def test_the_host_names_the_hand_and_no_page_does(desk: Desk, tmp_path: Path) -> None:
    bench, first = names(desk)
    step = {"kind": "power on"}
    reply(desk, said(first, "answer", "t1", answer="1 m", by="somebody else"), by="t02")
    reply(desk, said(first, "hint", "t2", by="somebody else"), by="t02")
    reply(desk, said(bench, "step", "t3", step=step, by="somebody else"), by="t01")
    reply(desk, said(first, "answer", "t4", answer="2 m", by="somebody else"))
    hands = [(e["event"], e.get("by")) for e in entries(tmp_path) if "exercise" in e]
    assert hands == [(ANSWER, "t02"), (HINT, "t02"), (STEP, "t01"), (ANSWER, None)]
    content = json.loads(json.dumps(desk.handed_in()))
    assert wrong_in("hand-in", content) == []
    without = [{k: v for k, v in e.items() if k != "by"} for e in entries(tmp_path)]
    assert records(entries(tmp_path)) == records(without)


def test_what_no_file_can_hold_is_told_as_it_is_written(desk: Desk, tmp_path: Path) -> None:
    _, first = names(desk)
    half = json.loads('"1 \\ud800 m"')
    assert reply(desk, said(first, "answer", "t1", answer=half))["saved"]
    json.dumps(desk.opened(), ensure_ascii=False).encode()
    assert desk.saved[first]["answer"] == "1 ? m"
    again = desk_again(desk, tmp_path)
    assert again.saved[first] == {**desk.saved[first], "token": ""}
    assert desk.hear(said(first, "answer", half, answer="1 m")) is None


def desk_again(desk: Desk, folder: Path) -> Desk:
    """The same workbook after a restart."""
    return Desk(desk._task, folder / "w.task.json", desk._sheet)

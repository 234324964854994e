"""A desk that is shut keeps nothing and says why; whose hand did an act stands in the journal."""

from __future__ import annotations

import json
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from desks import desk_of, entries, reply, said, scenario

from labkit.exchange.journal import ANSWER, HANDED_IN, HINT, OPENED, STEP, Journal, records
from labkit.kinds.diagnosis.page import DiagnosisPage
from labkit.page.desk import Desk

sys.path.append(str(Path(__file__).parents[1] / "exchange"))
from exchange_schemas import wrong_in

FIRE = "The class is paused: leave the room by the nearest way out."


class Door:
    """What a host says of its desks."""

    shut = ""

    def __call__(self) -> str:
        return self.shut


@pytest.fixture
def door() -> Door:
    return Door()


@pytest.fixture
def desk(tmp_path: Path, door: Door) -> Desk:
    return desk_of(scenario("bring-up"), tmp_path, why_shut=door)


def names(desk: Desk) -> tuple[str, str]:
    """The exercise with a bench, and the first of the workbook."""
    kinds = {name: each["kind"] for name, each in desk.opened()["exercises"].items()}
    return next(name for name, kind in kinds.items() if kind == "diagnosis"), next(iter(kinds))


def test_a_shut_desk_keeps_nothing_and_says_why(desk: Desk, door: Door, tmp_path: Path) -> None:
    bench, first = names(desk)
    before = said(first, "answer", "t1", answer="1 m")
    assert reply(desk, before) == {"token": "t1", "saved": True}
    door.shut = FIRE
    shown, kept = desk.opened()["exercises"], entries(tmp_path)
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
    assert desk.opened()["exercises"] == shown
    # What was kept before is confirmed: its reply may have been lost.
    assert reply(desk, before) == {"token": "t1", "saved": True}
    assert entries(tmp_path) == kept
    assert desk.hear({"exercise": first, "message": "no message"}) is None
    door.shut = ""
    assert reply(desk, said(first, "answer", "t2", answer="2 m")) == {"token": "t2", "saved": True}


def test_a_desk_that_waits_keeps_nothing_and_lets_the_page_come_again(
    tmp_path: Path, door: Door
) -> None:
    desk = desk_of(scenario("scan-list-and-io-map"), tmp_path, why_waits=door)
    shown = desk.opened()["exercises"]
    first, ladder = next(iter(shown)), next(n for n, e in shown.items() if e["kind"] == "ladder")
    messages = [
        said(first, "answer", "t1", answer="1"),
        said(first, "hint", "t2"),
        said(first, "step", "t3", step={}),
        said(first, "drill", "t4"),
        said(ladder, "try", "t5", program=[], on=[], memory={}),
    ]
    door.shut, kept = FIRE, entries(tmp_path)
    for message in messages:
        told = {"token": message["message"]["token"], "failed": f"Not saved: {FIRE}"}
        assert reply(desk, message) == {**told, "again": True}
    assert (desk.opened()["exercises"], entries(tmp_path)) == (shown, kept)
    door.shut = ""
    assert reply(desk, messages[0]) == {"token": "t1", "saved": True}
    assert "tried" in reply(desk, messages[-1])
    # What is kept is confirmed, whatever the hour.
    door.shut = FIRE
    assert reply(desk, messages[0]) == {"token": "t1", "saved": True}


def test_what_is_told_is_numbered_so_that_late_news_is_none(desk: Desk, tmp_path: Path) -> None:
    _, first = names(desk)
    turns = [desk.opened()["turn"]]
    for token in ("t1", "t2", "t1"):
        heard = desk.hear(said(first, "answer", token, answer="1 m"))
        assert heard
        turns.append(heard["turn"])
    turns.append(desk.opened()["turn"])
    assert len({opening for opening, _ in turns}) == 1
    assert [number for _, number in turns] == [0, 1, 2, 3, 3]
    again = desk_of(scenario("bring-up"), tmp_path)
    assert again.opened()["turn"][0] != turns[0][0]


def test_what_is_handed_in_has_the_act_under_way_and_nothing_comes_after(
    desk: Desk, door: Door, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, first = names(desk)
    writing, go_on = threading.Event(), threading.Event()
    real = Journal.append

    def slow(journal: Journal, event: str, **details: Any) -> dict[str, Any]:
        writing.set()
        assert go_on.wait(120)
        return real(journal, event, **details)

    monkeypatch.setattr(Journal, "append", slow)
    answer = said(first, "answer", "t1", answer="1 m")
    with ThreadPoolExecutor() as hands:
        act = hands.submit(reply, desk, answer)
        assert writing.wait(120)
        door.shut = "The time is over."
        handing_in = hands.submit(desk.handed_in)
        late = hands.submit(reply, desk, said(first, "answer", "t2", answer="2 m"))
        with pytest.raises(TimeoutError):
            handing_in.result(0.2)
        go_on.set()
        assert act.result(120) == {"token": "t1", "saved": True}
        journal = handing_in.result(120)["journal"]
        assert late.result(120) == {"token": "t2", "failed": "Not saved: The time is over."}
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
    # Whose hand it was decides nothing.
    kept = records(entries(tmp_path))
    assert {name: replace(one, by="", hands=()) for name, one in kept.items()} == {
        name: replace(one, hands=()) for name, one in records(without).items()
    }
    assert (kept[bench].hands, kept[first].by) == (("t01",), "")


def test_what_no_file_can_hold_is_told_as_it_is_written(desk: Desk, tmp_path: Path) -> None:
    _, first = names(desk)
    half = json.loads('"1 \\ud800 m"')
    assert reply(desk, said(first, "answer", "t1", answer=half))["saved"]
    json.dumps(desk.opened(), ensure_ascii=False).encode()
    assert desk.saved[first]["answer"] == "1 ? m"
    again = desk_of(scenario("bring-up"), tmp_path)
    assert again.saved[first] == {**desk.saved[first], "token": ""}
    assert desk.hear(said(first, "answer", half, answer="1 m")) is None


def test_a_bench_is_set_up_when_somebody_looks_at_it(
    desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench, _ = names(desk)
    reply(desk, said(bench, "step", "t1", step={"kind": "power on"}))
    made: list[int] = []
    real = DiagnosisPage.__init__

    def counted(self: Any, ask: Any, key: Any, steps: Any = ()) -> None:
        made.append(len(steps))
        real(self, ask, key, steps)

    monkeypatch.setattr(DiagnosisPage, "__init__", counted)
    again = desk_of(scenario("bring-up"), tmp_path)
    again.opened()
    again.handed_in()
    assert made == []
    shown = again.shown(bench)
    assert shown
    assert [entry["kind"] for entry in shown["view"]["state"]["log"]] == ["power on"]
    assert made == [1]


def test_a_step_at_a_bench_that_nobody_looked_at_is_done_once(desk: Desk, tmp_path: Path) -> None:
    bench, _ = names(desk)
    reply(desk, said(bench, "step", "t1", step={"kind": "power on"}))
    again = desk_of(scenario("bring-up"), tmp_path)
    assert reply(again, said(bench, "step", "t2", step={"kind": "power off"}))["saved"]
    assert reply(again, said(bench, "step", "t2", step={"kind": "power off"}))["saved"]
    shown = again.shown(bench)
    assert shown
    log = [entry["kind"] for entry in shown["view"]["state"]["log"]]
    assert log == ["power on", "power off"]


def test_there_is_nothing_to_show_of_what_is_not_there(desk: Desk) -> None:
    assert desk.shown("none") is None
